#!/usr/bin/env sh
# Reviews jobs, keeps the reports as files, and ends with the status of the review:
#   0  nothing fails
#   1  findings fail
#   2  something could not be judged, which is never taken for a pass
#
#   sh wetrule-gate.sh [JOB or FOLDER ...]     by default the folder jobs
#
# Settings, from the environment:
#   WETRULE             the command (wetrule)
#   WETRULE_FAIL_AT     from which severity on a finding fails (major)
#   WETRULE_RULEBOOK    the folder of your own rulebook (none)
#   WETRULE_LEAVES      a file of concessions and deviation permits (none)
#   WETRULE_SNAPSHOT    a snapshot of old findings; only what is new or worse fails
#                       (wetrule-snapshot.json when it is there)
#   WETRULE_TIGHTEN     1: write what got better into the snapshot, when nothing fails; for
#                       your own machine, since somebody has to commit the file
#   WETRULE_REPORTS     where the reports go (wetrule-reports)
set -u

wetrule=${WETRULE:-wetrule}
reports=${WETRULE_REPORTS:-wetrule-reports}
snapshot=${WETRULE_SNAPSHOT:-}
if [ -z "$snapshot" ] && [ -e wetrule-snapshot.json ]; then
  snapshot=wetrule-snapshot.json
fi

[ $# -gt 0 ] || set -- jobs
set -- "$@" --fail-at "${WETRULE_FAIL_AT:-major}"
[ -z "${WETRULE_RULEBOOK:-}" ] || set -- "$@" --rulebook "$WETRULE_RULEBOOK"
[ -z "${WETRULE_LEAVES:-}" ] || set -- "$@" --leaves "$WETRULE_LEAVES"
[ -z "$snapshot" ] || set -- "$@" --snapshot "$snapshot"

# Reports of an earlier run must not be taken for those of this one.
mkdir -p "$reports" && rm -f "$reports/wetrule.xml" "$reports/wetrule.sarif" || exit 2

if [ "${WETRULE_TIGHTEN:-}" = 1 ]; then
  "$wetrule" review "$@" --tighten
else
  "$wetrule" review "$@"
fi
status=$?
[ "$status" -le 2 ] || status=2 # a missing command, for one

# The same review as files. What it says beside them has been said, unless it is something new.
report() {
  said=$("$wetrule" review "$@" 2>&1 >/dev/null)
  now=$?
  [ "$now" -le 2 ] || now=2
  if [ "$now" -ne "$status" ]; then
    echo "$said" >&2
  fi
  if [ "$now" -gt "$status" ]; then
    status=$now
  fi
}
report "$@" --format junit -o "$reports/wetrule.xml"
report "$@" --format sarif -o "$reports/wetrule.sarif"
exit "$status"
