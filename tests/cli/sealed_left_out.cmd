# What is told from single intervals leaves sealed readings out, and its head line says so
ours() { "$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z "$@"; }
for command in demand duration profile parts supply completeness cleaning extremes; do
    echo "$command: $(ours $command all | sed -n 2p)"
    ours $command 2022-08 || echo "exit $?"
done
