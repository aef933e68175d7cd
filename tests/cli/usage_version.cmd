"$METERBOOK" --version
