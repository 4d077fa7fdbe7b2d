# Targets for make. In your Makefile: include wetrule.mk
#
#   make wetrule            reviews the jobs; fails when findings fail or something could not be judged
#   make wetrule-snapshot   takes the snapshot of old findings anew
#   make wetrule-tighten    reviews, and writes what got better into the snapshot
#
# make itself ends with 2 whenever a target fails; the status of the review stands in its message.
WETRULE ?= wetrule
WETRULE_JOBS ?= jobs
WETRULE_FAIL_AT ?= major
WETRULE_FLAGS ?=
WETRULE_SNAPSHOT ?= wetrule-snapshot.json

wetrule_review = $(WETRULE) review $(WETRULE_JOBS) --fail-at $(WETRULE_FAIL_AT) $(WETRULE_FLAGS)
# The snapshot is used when it is there.
wetrule_known = $(if $(wildcard $(WETRULE_SNAPSHOT)),--snapshot $(WETRULE_SNAPSHOT))

.PHONY: wetrule wetrule-snapshot wetrule-tighten

wetrule:
	$(wetrule_review) $(wetrule_known)

wetrule-snapshot:
	$(WETRULE) snapshot $(WETRULE_JOBS) -o $(WETRULE_SNAPSHOT)

wetrule-tighten:
	$(wetrule_review) --snapshot $(WETRULE_SNAPSHOT) --tighten
