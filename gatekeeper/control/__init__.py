"""Keeping the printer in control: drift seen early, the new curve handed over, nothing overdue."""
