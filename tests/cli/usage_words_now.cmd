"$METERBOOK" now then
