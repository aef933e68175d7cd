"$METERBOOK" --database household.record day 2027-03-12
