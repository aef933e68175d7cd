"$METERBOOK" enter --help
