"""Keeping printers and meters of a site in control: curves, wedges, meters, trends, register."""
