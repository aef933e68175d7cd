"$METERBOOK" --database coarse.record demand all
"$METERBOOK" --database half_hour.record demand all
"$METERBOOK" --database autumn.record demand all --length 1h
