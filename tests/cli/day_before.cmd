"$METERBOOK" --database household.record day 2020-03-12
