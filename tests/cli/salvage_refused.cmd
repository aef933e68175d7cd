# what cannot be: no new file stays behind
mkdir -p own && cp household.record own/there.record
"$METERBOOK" salvage household.record own/there.record; echo "code $?"
"$METERBOOK" salvage absent.record own/n.record; echo "code $?"
"$METERBOOK" salvage own own/n.record; echo "code $?"
head -c 20000 /dev/zero >own/zeros
"$METERBOOK" salvage own/zeros own/n.record; echo "code $?"
: >own/nothing
"$METERBOOK" salvage own/nothing own/n.record; echo "code $?"
"$METERBOOK" salvage household.record absent/n.record; echo "code $?"
"$METERBOOK" salvage household.record; echo "code $?"
"$METERBOOK" salvage one two three; echo "code $?"
cmp household.record own/there.record && ls own/n.record 2>&1
