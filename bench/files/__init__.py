"""Every file that is read or written."""
