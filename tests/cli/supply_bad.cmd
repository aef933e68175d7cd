for words in "--by hour" "--view all" "--meter Barn" "--meter 99"; do "$METERBOOK" --database supply.record supply $words; echo $?; done
