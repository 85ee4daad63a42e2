"""The same arm by the flat rules, and compared."""
