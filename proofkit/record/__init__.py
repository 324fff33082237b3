"""The papers of an edition: pull log, reconciliation, numbering, draft documentation sheet."""
