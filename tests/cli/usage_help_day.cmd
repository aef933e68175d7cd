"$METERBOOK" day --help
