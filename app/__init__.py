"""The pages of Levelgaze: thin views of the engine."""
