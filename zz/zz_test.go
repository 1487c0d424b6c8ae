package zz
import ("testing";"underlamp/demo";"underlamp/formats/benchfolder";"underlamp/app/light";"underlamp/report")
func BenchmarkModel(b *testing.B){
 for _,n := range demo.Names(){
  bench,err:=benchfolder.Bench(demo.Folder(),n); if err!=nil{b.Fatal(err)}
  for _, f := range []light.FieldUse{light.FieldOff, 0} {
  b.Run(n, func(b *testing.B){ for b.Loop(){ m,err:=light.NewModelWith(bench,light.Options{Field:f}); if err!=nil{b.Fatal(err)}; l,err:=m.At(bench.Setting().Height); if err!=nil{b.Fatal(err)}; a:=l.Answer(nil,25); _=a }})
  b.Run(n+"/read", func(b *testing.B){ for b.Loop(){ benchfolder.Bench(demo.Folder(),n)}})
  m,_:=light.NewModelWith(bench,light.Options{Field:f}); l,_:=m.At(bench.Setting().Height); a:=l.Answer(nil,25)
  b.Run(n+"/section", func(b *testing.B){ for b.Loop(){ report.LightSection(bench,m,a,nil)}})
  b.Run(n+"/at", func(b *testing.B){ for b.Loop(){ l,_:=m.At(0.25); l.Answer(nil,25)}})
  }
 }
}
