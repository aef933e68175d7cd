"$METERBOOK" --database household.record --by hour yield
"$METERBOOK" --database household.record yield nonsense
