"""The pH electrode: millivolts and pH, buffer solutions, calibration, drift and wear."""
