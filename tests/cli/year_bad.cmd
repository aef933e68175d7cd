"$METERBOOK" --database household.record year 26
