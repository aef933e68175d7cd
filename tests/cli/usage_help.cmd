"$METERBOOK" --help
