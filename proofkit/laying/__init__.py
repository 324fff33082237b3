"""Laying a sheet on the standard: plate millimetres to the sheet's own pixels."""
