"""Pure functions of plain numbers: links, rates, power, duty, wear, money, risk."""
