"""Exposure as numbers: scales, stops, filters, optics, noise. No input or output, no clock."""
