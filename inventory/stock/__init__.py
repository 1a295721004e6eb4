"""The ledger: lots, postings, movements, counts. Nothing else writes an amount or a value."""
