"""Keep, exchange and compare cases: JSON, FHIR and the store on this computer."""
