"$METERBOOK" --database household.record parts
