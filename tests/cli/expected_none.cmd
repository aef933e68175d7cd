# where nothing is made there is nothing to hold against a promise
"$METERBOOK" --database grid_alone.record expected all
