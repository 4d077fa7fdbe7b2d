package lint
import ("testing";"context";"fmt";"time";"wetrule/lint/verdict")
func TestZZ(t *testing.T){
 r,_:=core(t).Review(context.Background(),"job.yaml",referenceJob(40))
 at,plain,und,oth:=0,0,0,0
 last:=""
 same:=0
 class:=make([]int,len(r.Verdicts))
 for i:=range r.Verdicts{ v:=&r.Verdicts[i]
  if v.Outcome==verdict.Undetermined {und++;class[i]=1;continue}
  if a:=v.Value.At();a!="" {at++; if a==last {same++}; last=a; class[i]=2; continue}
  p:=v.Rule.Paths()[0]
  if p.Plain {plain++; class[i]=3} else {oth++}
 }
 fmt.Println("zz other",oth,"und",und,"at",at,same,"plain",plain)
 var ps verdict.Places
 var b []byte
 for c:=-1;c<4;c++ {
  best:=time.Hour
  for range 300 { s:=time.Now(); ps.Reset(r.Root); b=b[:0]
   for i:=range r.Verdicts { if c<0||class[i]==c { b,_=ps.Append(b[:0],&r.Verdicts[i]) } }
   best=min(best,time.Since(s)) }
  fmt.Println(c,best)
 }
}
