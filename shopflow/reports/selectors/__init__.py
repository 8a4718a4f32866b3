"""Questions to the ledger that weekly reports, the Year page and Records ask."""
