"$METERBOOK" windmill
