package wetrule.sealed_test

import data.wetrule.sealed

test_findings_are_of_rules_in_the_edition if {
	said := {["kept", "a", 1], ["kept", "b"], ["switched-off", "a", 1]}
	got := sealed.findings with data.wetrule.rules.findings as said
		with data.wetrule.judged as {"kept": {"title": "T"}, "other": {"title": "O"}}
	got == {["kept", "a", 1], ["kept", "b"]}
}
