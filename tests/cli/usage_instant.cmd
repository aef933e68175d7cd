"$METERBOOK" --database gross.record --now noon day
