"$METERBOOK" --database household.record profile
"$METERBOOK" --database autumn.record profile --by month --of export
