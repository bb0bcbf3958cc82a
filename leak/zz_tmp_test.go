package leak
import ("testing";"fmt";"math"
"seatproof/unit";"seatproof/rig")
func TestTmp(t *testing.T){
	v := sound()
	v.volume, v.flow, v.share, v.edge, v.rigLeak = 2000, 428.043, 1, 0, 0
	v.free, v.blanked, v.tau, v.pull, v.hold, v.noise, v.step = 60, 77, 0.02, 30, 72, 10, 10
	r := v.rig()
	r.Volume, r.Port.Volume = unit.Exactly(1e-3), unit.Exactly(1e-3)
	r.RigLeak, r.Port.HeadTemperature = unit.Exactly(0), unit.Exactly(293.15)
	r.Gauge.Accuracy = unit.Exactly(0.001)
	r.Air.Pressure = unit.Exactly(101325)
	rd := v.answered(t, r)
	rd.Draws=nil; rd.Curve=nil
	fmt.Printf("%+v %+v\n", rd, rd.Leak)
	tr:=v.trace(t)
	q:=v.rig(); _=q
	for i:=0;i<0;i+=40{fmt.Printf("%.1f:%.0f ",tr.Time[i],tr.Value[i])}
	for _,f:=range []func(r *rig.Rig){func(r *rig.Rig){},func(r *rig.Rig) { r.Port.Volume.Spread = 3e-6 },func(r *rig.Rig) { r.Port.HeadTemperature.Spread = 10 }}{
	rd=budgeted(t,f)
	m,s:=0.0,0.0; for _,d:=range rd.Draws{m+=d.Flow}; m/=float64(len(rd.Draws)); for _,d:=range rd.Draws{s+=(d.Flow-m)*(d.Flow-m)}; s=math.Sqrt(s/float64(len(rd.Draws)))
	fmt.Println("\n",relative(rd), s/m, rd.Budget, *rd.Leak, *rd.Share)
	}
}
