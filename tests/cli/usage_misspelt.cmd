"$METERBOOK" moth
