echo 'not a database, but a text that is long enough to look like a file of its own' >foreign
"$METERBOOK" --database foreign day
