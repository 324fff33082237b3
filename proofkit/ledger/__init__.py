"""The ledger of an edition: system of record for measurements and decisions."""
