"$METERBOOK" --database settings_only.record day
