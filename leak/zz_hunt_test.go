package leak
import ("testing";"math/rand/v2";"fmt";"os";"strconv";"time";"runtime/debug";"runtime";"strings")
type rec struct{testing.TB; msgs []string}
func (r *rec) Helper(){}
func (r *rec) Errorf(f string,a ...any){r.msgs=append(r.msgs,fmt.Sprintf(f,a...))}
func (r *rec) Error(a ...any){r.msgs=append(r.msgs,fmt.Sprint(a...))}
func (r *rec) Fatal(a ...any){r.msgs=append(r.msgs,fmt.Sprint(a...))}
func (r *rec) Failed() bool {return len(r.msgs)>0}
func TestHunt(t *testing.T){
 n,_:=strconv.Atoi(os.Getenv("HUNT")); from,_:=strconv.Atoi(os.Getenv("FROM"))
 if n==0 {t.Skip()}
 seen:=map[string]int{}; refs:=map[string]int{}
 for i:=from;i<from+n;i++{
  r:=rand.New(rand.NewPCG(99,uint64(i)))
  b:=make([]byte,30+r.IntN(150)); for k:=range b{b[k]=byte(r.IntN(256))}
  if i%2==0 { // plausible
   copy(b[:3],[]byte{0xff,0xdf&byte(r.IntN(256)|0x43),byte(r.IntN(8))})
   for k:=3;k<30;k++{ if r.IntN(3)>0 {b[k]=0} }
   sound := []byte{byte(r.IntN(8)), byte(r.IntN(9)), byte(r.IntN(5)), 4, 0, 100, 0, 36, 3, 255, byte(150+r.IntN(80)), 5, 0, 60, 208, 38, 255, byte(r.IntN(200)), 5, 1, 255, byte(r.IntN(200)), 17, 0, 0, 0, 60, 0}
   for k:=range sound {if r.IntN(20)==0 {sound[k]=byte(r.IntN(256))}}
   b=append(b[:min(len(b),31+r.IntN(3))],sound...)
  }
  func(){
   defer func(){ if p:=recover();p!=nil{ st:=string(debug.Stack()); ls:=strings.Split(st,"\n"); k:="panic "+fmt.Sprint(p); for q,l:=range ls{ if strings.Contains(l,"seatproof/leak.")||strings.Contains(l,"seatproof/trace."){ if !strings.Contains(l,"TestHunt"){k+=" @"+strings.TrimSpace(ls[q+1]);break}}}; if seen[k]==0{fmt.Printf("#%d %s\n%q\n",i,k,b)}; seen[k]++}}()
   in:=&bytesOf{b}; rg,o:=wildRig(in); tr:=wildTrace(in)
   t0:=time.Now(); tm:=time.AfterFunc(4*time.Second,func(){ buf:=make([]byte,1<<16); m:=runtime.Stack(buf,true); w:=""; for _,l:=range strings.Split(string(buf[:m]),"\n"){ if strings.Contains(l,"/leak/")||strings.Contains(l,"/trace/"){w+=strings.TrimSpace(l)+" | "}}; fmt.Printf("#%d HANG n=%d %s\nNEXT %d\n",i,tr.Len(),w,i+1); os.Exit(3)})
   rd:=Read(tr,rg,o); d:=time.Since(t0); tm.Stop()
   if d>500*time.Millisecond {fmt.Printf("#%d SLOW %v n=%d\n",i,d,tr.Len())}
   rc:=&rec{}; checkReading(rc,rd)
   if rd.Refusal!=nil{refs[string(rd.Refusal.Code)]++} else {refs["ok"]++}
   for _,m:=range rc.msgs{ k:=m; if j:=strings.IndexAny(k,"{0123456789-");j>0{k=k[:j]}; if seen[k]<2{fmt.Printf("#%d %s\n%q\n",i,m,b)}; seen[k]++}
  }()
 }
 fmt.Println(seen,refs)
}
