"""Write the home check as one file that needs no server and no network."""
