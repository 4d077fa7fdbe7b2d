# METADATA
# title: Answer of a sealed rulebook
# description: |
#  Holds the findings of those rules that the sealed edition judges by, data.wetrule.judged. Rego of its own may also name a rule that is switched off or
#  not in force on the day of the edition; such findings are left out here. A policy server is asked for data.wetrule.sealed.findings.
package wetrule.sealed

import data.wetrule.judged
import data.wetrule.rules

findings contains f if {
	some f in rules.findings
	judged[f[0]]
}
