"""What a machine does and costs: capacity, rates, power, the year, money."""
