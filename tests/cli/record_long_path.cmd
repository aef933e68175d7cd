"$METERBOOK" --database "$(printf %0300d 7)" day
