"""What a person or another program sees: rounding and display units live only here."""
