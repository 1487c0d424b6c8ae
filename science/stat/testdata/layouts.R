options(digits=15)
# Run from this folder: Rscript layouts.R writes the six cases of layouts, levels and power
# for what is not normal. Own code, CC0-1.0. About a minute.
OUT <- "results"; DAT <- "data"
num <- function(x) paste0(ifelse(is.na(x),"null",ifelse(is.infinite(x),'"Inf"',sprintf("%.15g",x))))
js <- function(x, ind="    ") { if (is.list(x)) paste0("{\n", paste0(ind, '  "', names(x), '": ', sapply(x, js, ind=paste0(ind,"  ")), collapse=",\n"), "\n", ind, "}")
  else if (is.matrix(x)) paste0("[", paste(apply(x,1,function(r) paste0("[",paste(num(r),collapse=", "),"]")), collapse=", "), "]")
  else if (is.character(x)) { q <- paste0('"', gsub('"','\\\\"',x), '"'); if (length(q)==1) q else paste0("[",paste(q,collapse=", "),"]") }
  else if (length(x)==1) num(x) else paste0("[", paste(num(x),collapse=", "), "]") }
case <- function(id, procedure, data, source, licence, citation, calls, results, notes="") {
  o <- list(id=id, procedure=procedure, data=data, source=source, licence=licence, citation=citation,
    software=list(R=R.version.string, packages=list(stats="4.2.2")), calls=calls, notes=notes, results=results)
  cat(js(o, ""), "\n", file=file.path(OUT, paste0(id, ".json")), sep="") }
pinv <- function(A){e<-eigen(A,symmetric=TRUE); k<-e$values>1e-9*max(e$values); e$vectors[,k]%*%(t(e$vectors[,k])/e$values[k])}
info <- function(t,b){ X<-model.matrix(~factor(t)-1); Z<-model.matrix(~factor(b)-1); crossprod(X)-crossprod(X,Z)%*%solve(crossprod(Z))%*%crossprod(Z,X) }

# 1 catalyst, Montgomery
d <- data.frame(catalyst=c(1,1,1,2,2,2,3,3,3,4,4,4), batch=c(1,2,4,2,3,4,1,2,3,1,3,4), time=c(73,74,71,75,67,72,73,75,68,75,72,75))
write.csv(d, file.path(DAT,"catalyst_bib.csv"), row.names=FALSE, quote=FALSE)
m <- lm(time~factor(batch)+factor(catalyst), d); a <- anova(m)
C <- info(d$catalyst,d$batch); G <- pinv(C)
ev <- eigen(C/3)$values[1:3]
cf <- c(0, coef(m)[paste0("factor(catalyst)",2:4)]); adj <- cf-mean(cf)
# all orders within blocks
st <- function(y,t,b){ yc <- y-ave(y,b); q <- tapply(yc,factor(t,levels=1:4),sum); q<-as.numeric(q); drop(t(q)%*%G%*%q) }
perms <- rbind(c(1,2,3),c(1,3,2),c(2,1,3),c(2,3,1),c(3,1,2),c(3,2,1))
o <- order(d$batch); dd <- d[o,]; obs <- st(dd$time,dd$catalyst,dd$batch); n<-0
g <- expand.grid(1:6,1:6,1:6,1:6)
for (i in 1:nrow(g)) { t <- dd$catalyst; for (b in 1:4) t[dd$batch==b] <- dd$catalyst[dd$batch==b][perms[g[i,b],]]; if (st(dd$time,t,dd$batch)>=obs-1e-9) n<-n+1 }
case("incomplete-catalyst","Balanced incomplete blocks, treatments adjusted for blocks; and the randomisation test by all orders within blocks","data/catalyst_bib.csv",
 "Montgomery D. C., Design and Analysis of Experiments, the catalyst example of balanced incomplete blocks (from memory; reproduces the printed sums of squares 55.00, 22.75, 3.25 and F 11.66)","published figures (facts), retyped","Montgomery (2013)",
 list(anova="anova(lm(time~factor(batch)+factor(catalyst),d))", information="crossprod(X)-crossprod(X,Z)%*%solve(crossprod(Z))%*%crossprod(Z,X), X and Z the indicators of catalyst and batch", randomisation="all 6^4 orders of catalysts within batches, statistic t(q)%*%pinv(C)%*%q, q the sums of deviations from batch means"),
 list(ss_blocks=a[1,2], ss_treatments=a[2,2], ss_error=a[3,2], df_error=a[3,1], F=a[2,4], p=a[2,5], adjusted_effects=as.numeric(adj), efficiency=1/mean(1/ev), layouts=1296, at_least_as_extreme=n))
print(c(a[1,2],a[2,2],a[3,2],a[2,4],n))

# 2 Petersen augmented
blk <- c(rep("I",7),rep("II",6),rep("III",7)); trt <- c("A","B","C","D","g","k","l","A","B","C","D","e","i","A","B","C","D","f","h","j")
y <- c(83,77,78,78,70,75,74,79,81,81,91,79,78,92,79,87,81,89,96,82)
d <- data.frame(block=blk,treatment=trt,yield=y); write.csv(d, file.path(DAT,"augmented_petersen.csv"), row.names=FALSE, quote=FALSE)
m <- lm(yield~block+treatment,d); a <- anova(m); print(a)
lv <- sort(unique(trt)); V <- pinv(info(factor(trt,levels=lv),blk)); pv <- function(i,j){i<-match(i,lv);j<-match(j,lv);V[i,i]+V[j,j]-2*V[i,j]}
ms <- a[3,3]
nd <- expand.grid(block=unique(blk),treatment=lv); nd$f <- predict(m,nd); adj <- tapply(nd$f,nd$treatment,mean)
case("augmented-petersen","Augmented blocks: four checks in each of three blocks, eight entries once","data/augmented_petersen.csv",
 "Petersen R. G. (1985) Agricultural Field Experiments, the augmented example; as widely reprinted","published figures (facts), retyped","Federer (1956)",
 list(anova="anova(lm(yield~block+treatment,d))", variances="pinv(C)[i,i]+pinv(C)[j,j]-2*pinv(C)[i,j], C the information of treatments with blocks taken out"),
 list(ss_blocks=a[1,2], ss_treatments=a[2,2], ss_error=a[3,2], df_error=a[3,1], F=a[2,4], p=a[2,5], levels=lv, adjusted_means=as.numeric(adj[lv]),
  variance=list(two_checks=pv("A","B"), entries_same_block=pv("g","k"), entries_other_blocks=pv("g","e"), entry_check=pv("g","A"))))

# 3 efficiency factors of given designs
cyc <- function(v,s) do.call(rbind,lapply(0:(v-1),function(i) (s+i)%%v))
eff <- function(B,v){ t<-as.vector(t(B)); b<-rep(1:nrow(B),each=ncol(B)); e<-eigen(info(factor(t,levels=0:(v-1)),b)/ (length(t)/v))$values; 1/mean(1/e[1:(v-1)]) }
des <- list(list(7,c(0,1,3)),list(8,c(0,1,3)),list(8,c(0,1,2)),list(9,c(0,1,3)),list(5,c(0,1,2)),list(13,c(0,1,3,9)),list(12,c(0,1,4,6)))
case("incomplete-cyclic","Average efficiency factors of cyclic designs, from the eigenvalues of the information matrix","", "designs chosen here","CC0-1.0, generated for this project","John (1966)",
 list(efficiency="1/mean(1/eigen(C/r)$values[1:(v-1)])"),
 list(v=sapply(des,function(x)x[[1]]), initial=sapply(des,function(x)paste(x[[2]],collapse=" ")), efficiency=sapply(des,function(x)eff(cyc(x[[1]],x[[2]]),x[[1]]))))

# 4 exact power of Fisher's test two-sided by |difference| with equal groups = randomisation test; by enumeration
exactp <- function(n,p1,p2,alpha=0.05){ s<-0; for(x in 0:n) for(y in 0:n){ m<-x+y; pr<-dhyper(0:m,n,n,m); k<-0:m; p<-sum(pr[abs(k-(m-k))>=abs(x-y)-1e-9]); if (m>0 && m<2*n && p<=alpha*(1+1e-9)) s<-s+dbinom(x,n,p1)*dbinom(y,n,p2)}; s }
gr <- expand.grid(n=c(6,8,10),p1=c(0.1,0.3),p2=c(0.7,0.9))
ft <- function(n,p1,p2){ s<-0; for(x in 0:n) for(y in 0:n) if (fisher.test(matrix(c(x,n-x,y,n-y),2))$p.value<=0.05) s<-s+dbinom(x,n,p1)*dbinom(y,n,p2); s }
ex <- mapply(exactp,gr$n,gr$p1,gr$p2); fi <- mapply(ft,gr$n,gr$p1,gr$p2); print(cbind(gr,ex,fi))
# simulated powers
set.seed(20261126)
N <- 20000
simt <- function(gen,k,r,N) { g <- factor(rep(1:k,each=r)); h<-0; for(i in 1:N){ y<-gen(); if (var(y)>0) { p<-tryCatch({ss<-tapply(y,g,mean); b<-r*sum((ss-mean(y))^2)/(k-1); w<-sum((y-ss[g])^2)/(k*r-k); if (w<=1e-14) 1 else pf(b/w,k-1,k*r-k,lower.tail=FALSE)},error=function(e)1); if(p<=0.05)h<-h+1 } }; h/N }
cnt <- function(pr,rho,r,n) function(){ unlist(lapply(pr,function(p){ k<-(1-rho)/rho; rbinom(r,n,rbeta(r,p*k,(1-p)*k))/n })) }
p_count <- c(simt(cnt(c(0.1,0.5),0.15,4,8),2,4,N), simt(cnt(c(0.1,0.3,0.6),0.10,3,8),3,3,N))
cuts <- c(0,0.9,1.8,2.8,4)
grd <- function(sh,sd,r,n) function(){ v<-unlist(lapply(sh,function(s) unlist(lapply(1:r,function(j){u<-s+rnorm(1,0,sd); z<-u+rlogis(n); findInterval(z,cuts,left.open=TRUE)})))); rowMeans(matrix(rank(v),ncol=n,byrow=TRUE)) }
p_grade <- c(simt(grd(c(-1.5,0.5),0.7,4,8),2,4,N), simt(grd(c(-0.5,-0.5),0.7,4,8),2,4,N))
# onset: rounds alike for all, so the NPMLE is the table of the cells; score of Sun: for cell k, log-rank scores with tied discrete hazards
rounds <- c(6,9,12,15,18,21,24,27,30)
sun <- function(cell,K){ # cell 1..K seen at round, K+1 never
  n<-length(cell); m<-tabulate(cell,K+1)/n; S0<-rev(cumsum(rev(m))); h<-m/S0; h[is.nan(h)]<-0; H<-cumsum(h)
  ifelse(cell<=K, 1-H[cell], -H[K]) }
ons <- function(sc,sd,r,n) function(){ K<-length(rounds); cell<-unlist(lapply(sc,function(s) unlist(lapply(1:r,function(j){ t<-rweibull(n,3,s*exp(rnorm(1,0,sd))); findInterval(t,rounds,left.open=TRUE)+1 })))); rowMeans(matrix(sun(cell,K),ncol=n,byrow=TRUE)) }
p_onset <- c(simt(ons(c(20,28),0.15,4,8),2,4,N), simt(ons(c(28,28),0.15,4,8),2,4,N))
case("power-discrete","Power for yes-or-no, grades and onset at rounds","", "parameters chosen here","CC0-1.0, generated for this project","simulation and enumeration in R",
 list(exact="sum over x, y of dbinom*dbinom where the two-sided hypergeometric p by |x-y| is at most 0.05", counted="20000 trials: beta-binomial counts, shares of units, one-way F", graded="20000 trials: findInterval(u+rlogis(n),cuts), mean midrank of units, one-way F", timed="20000 trials: rweibull(n,3,scale*exp(rnorm(1,0,sd))), cells between rounds, 1-H or -H with H the cumulated hazard of the masses, unit means, one-way F", seed="set.seed(20261126)"),
 list(exact=list(n=gr$n,p1=gr$p1,p2=gr$p2,power=ex,power_fisher_test=fi), trials=N,
  counted=list(chances=c("0.1 0.5","0.1 0.3 0.6"),rho=c(0.15,0.10),units=c(4,3),subs=8,power=p_count),
  graded=list(shift=c("-1.5 0.5","-0.5 -0.5"),sd=0.7,units=4,subs=8,cuts=cuts,power=p_grade),
  timed=list(scale=c("20 28","28 28"),shape=3,sd=0.15,units=4,subs=8,rounds=rounds,power=p_onset)))
print(p_count);print(p_grade);print(p_onset)

# 5 power of incomplete blocks and of a factorial contrast, noncentral F in R
C7 <- info(as.vector(t(cyc(7,c(0,1,3)))),rep(1:7,each=3)); mu <- c(-6,6,0,0,0,0,0); var<-5^2+12^2/8
l<- drop(t(mu)%*%C7%*%mu)/var; df2<-21-7-7+1
pw<-pf(qf(.95,6,df2),6,df2,ncp=l,lower.tail=FALSE)
case("power-incomplete","Noncentral F of treatments in balanced incomplete blocks of 3 from 7","", "parameters chosen here","CC0-1.0, generated for this project","Searle, Casella & McCulloch (1992)",
 list(power="pf(qf(.95,6,8),6,8,ncp=mu'C mu/(5^2+12^2/8),lower.tail=FALSE)"), list(initial=c(0,1,3), means=mu, sd_unit=5, sd_sub=12, subs=8, ncp=l, df2=df2, power=pw))

# 6 D-optimal designs by the multiplicative rule on a grid, log determinants
grad <- function(f,p,x){ sapply(seq_along(p),function(k){h<-1e-5*max(abs(p[k]),1e-3);a<-p;b<-p;a[k]<-a[k]+h;b[k]<-b[k]-h;(f(x,a)-f(x,b))/(2*h)}) }
nrh <- function(x,p){ u<-p[2]*x/p[1]; b<-u+1; p[1]*2*u/(b+sqrt(pmax(0,b*b-4*p[3]*u)))-p[4] }
qp <- function(x,p){ d<-pmin(x-p[3],0); p[1]+p[2]*d*d }
dopt <- function(f,p,lo,hi){ x<-seq(lo,hi,length.out=401); Gm<-grad(f,p,x); w<-rep(1/401,401); k<-length(p); for(i in 1:20000){ M<-crossprod(Gm*w,Gm); s<-rowSums((Gm%*%solve(M))*Gm)/k; w<-w*s }
 # as many points as parameters: equal shares, places by optim from those of the rule
 top<-which(w>1e-3); g<-cut(x[top],c(-Inf,(x[top][-1]+x[top][-length(top)])[diff(top)>1]/2,Inf)); st<-tapply(x[top]*w[top],g,sum)/tapply(w[top],g,sum); stopifnot(length(st)==k)
 h<-function(z) -log(det(crossprod(grad(f,p,pmin(hi,pmax(lo,z))))/k)); o<-as.numeric(st); for(r in 1:8) o<-optim(o,h,control=list(reltol=1e-15,maxit=5000))$par
 o<-sort(pmin(hi,pmax(lo,o))); M<-crossprod(grad(f,p,o))/k; xx<-seq(lo,hi,length.out=40001); Gx<-grad(f,p,xx); list(points=o,logdet=log(det(M)),worst=max(rowSums((Gx%*%solve(M))*Gx)/k)) }
r1<-dopt(nrh,c(200,20,0.7,5),2,30); r2<-dopt(qp,c(180,-0.6,18),5,30)
M0<-function(f,p,x){ Gm<-grad(f,p,x); log(det(crossprod(Gm)/length(x))) }
e1<-M0(nrh,c(200,20,0.7,5),seq(2,30,length.out=6)); e2<-M0(qp,c(180,-0.6,18),seq(5,30,length.out=6))
case("optimal-levels","D-efficiency of six even levels, D-optimal design by 20000 steps of the multiplicative rule on 401 points, then equal shares and places by optim","", "parameters chosen here","CC0-1.0, generated for this project","Silvey, Titterington & Torsney (1978)",
 list(rule="w <- w*rowSums((G%*%solve(crossprod(G*w,G)))*G)/k"),
 list(non_rectangular=list(p=c(200,20,0.7,5),range=c(2,30),points=r1$points,worst=r1$worst,efficiency_even=exp((e1-r1$logdet)/4)), quadratic_plateau=list(p=c(180,-0.6,18),range=c(5,30),points=r2$points,worst=r2$worst,efficiency_even=exp((e2-r2$logdet)/3))))
print(r1);print(r2);print(exp((e1-r1$logdet)/4));print(exp((e2-r2$logdet)/3))
