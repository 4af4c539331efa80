"""The appliance on a real Linux kernel, whose GPIO chips and I2C bus a test can move by hand."""
