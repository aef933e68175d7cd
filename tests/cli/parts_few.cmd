# two parts, and neither their planes nor their peak power are known
"$METERBOOK" --database parts.record parts
