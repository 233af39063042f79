"""What a message states: fryers, times, amounts, duties, parts, notes."""
