: >other
"$METERBOOK" --database other day
