# Growth curves of repeated measurements: the cases growth-* beside this file.
# Rscript growth.R, here, with data and results below; lib.R says how a case is written.
source("lib.R"); suppressPackageStartupMessages(library(nlme))
for (s in c("Orange", "DNase", "Soybean")) export(as.data.frame(get(s)), paste0(s, ".csv"))
NC <- "nc<-nlmeControl(tolerance=1e-9,pnlsTol=1e-7,minScale=1e-14,msTol=1e-10,maxIter=300,pnlsMaxIter=50,msMaxIter=2000,returnObject=TRUE)"
SC <- "nc1<-nls.control(tol=1e-7,maxiter=300,minFactor=1e-12,nDcentral=TRUE)"
# sd by level from the outermost in; the last is the residual's
ANS <- "ans<-function(f){s<-f$sigma;list(fixef=as.numeric(fixef(f)),se=as.numeric(sqrt(diag(vcov(f)))),sd=lapply(f$modelStruct$reStruct,function(r){m<-as.matrix(r)*s^2;as.numeric(sqrt(diag(m)))}),cor=lapply(f$modelStruct$reStruct,function(r){m<-cov2cor(as.matrix(r));as.numeric(m[lower.tri(m)])}),sigma=s,logLik=as.numeric(logLik(f)))}"
N <- c("stats", "nlme"); TOL <- list(rel = 1e-4)
case("growth-orange", "Logistic per tree, and with random asymptote", "Orange.csv",
  "Draper & Smith (1998) Applied Regression Analysis, 3rd edition, exercise 24.N; Orange in R", RCORE, "Pinheiro & Bates (2000) ch 8",
  setup = c(NC, SC, "library(nlme)", ANS), pkgs = N, tol = TOL, calls = c(
  trees = "t(sapply(1:5,function(k) coef(nls(circumference~A/(1+exp((m-age)/s)),subset(d,Tree==k),start=list(A=190,m=720,s=340),control=nc1))))",
  se = "t(sapply(1:5,function(k) sqrt(diag(vcov(nls(circumference~A/(1+exp((m-age)/s)),subset(d,Tree==k),start=list(A=190,m=720,s=340),control=nc1))))))",
  random_A = "{f1<-nlme(circumference~A/(1+exp((m-age)/s)),d,fixed=A+m+s~1,random=A~1|Tree,start=c(A=190,m=720,s=340),method='ML',control=nc);c(ans(f1),list(effects=ranef(f1)[as.character(1:5),1]))}",
  profile_A_tree4 = "{d4<-subset(d,Tree==4);f<-nls(circumference~SSlogis(age,A,m,s),d4);b<-coef(f);a<-b[[1]];p<-function(x){deviance(nls(circumference~x/(1+exp((m-age)/s)),d4,start=list(m=b[[2]]+(x-a)*5,s=b[[3]]+(x-a)),control=nc1))-deviance(f)*(1+qf(.95,1,4)/4)};c(uniroot(p,c(a-50,a-10),tol=1e-9)$root,uniroot(p,c(a+20,a+110),tol=1e-9)$root)}",
  delta_to_100_tree4 = "{b<-coef(f);u<-log(b[[1]]/100-1);g<-c(-b[[3]]/(b[[1]]-100),1,-u);c(b[[2]]-b[[3]]*u,sqrt(c(g%*%vcov(f)%*%g)))}",
  profile_to_100_tree4 = "{f<-nls(circumference~A/(1+(A/100-1)*exp((T-age)/s)),d4,start=list(A=225,T=643,s=303),control=nc1);b<-coef(f);p<-function(x){deviance(nls(circumference~A/(1+(A/100-1)*exp((x-age)/s)),d4,start=list(A=b[[1]],s=b[[3]]),control=nc1))-deviance(f)*(1+qf(.95,1,4)/4)};c(uniroot(p,c(b[[2]]-120,b[[2]]),tol=1e-9)$root,uniroot(p,c(b[[2]],b[[2]]+120),tol=1e-9)$root)}"))
case("growth-dnase", "Logistic over the logarithm of concentration, random asymptote and place, correlated", "DNase.csv",
  "Davidian & Giltinan (1995) Nonlinear Models for Repeated Measurement Data, sec 5.2.4; DNase in R", RCORE, "Pinheiro & Bates (2000) ch 3",
  setup = c(NC, "library(nlme)", ANS, "d$x<-log(d$conc)"), pkgs = N, tol = TOL, calls = c(
  random_Am = "ans(nlme(density~A/(1+exp((m-x)/s)),d,fixed=A+m+s~1,random=A+m~1|Run,start=c(A=2.3,m=1.5,s=1),method='ML',control=nc))",
  random_all = "ans(nlme(density~A/(1+exp((m-x)/s)),d,fixed=A+m+s~1,random=A+m+s~1|Run,start=c(A=2.4847,m=1.5157,s=1.0983),method='ML',control=nc))"))
G <- "lw~A-exp((m-Time)/s)"
case("growth-soybean", "Gompertz and logistic of the logarithm of leaf weight, plots nested in fields (variety by year)", "Soybean.csv",
  "Davidian & Giltinan (1995) Nonlinear Models for Repeated Measurement Data, sec 1.1.3; nlme::Soybean", GPL("nlme"), "Pinheiro & Bates (2000) ch 6",
  setup = c(NC, "library(nlme)", ANS, "d$lw<-log(d$weight)", "d$Field<-factor(paste(d$Variety,d$Year))"), pkgs = N, tol = TOL, calls = c(
  gompertz = paste0("ans(nlme(", G, ",d,fixed=A+m+s~1,random=list(Plot=pdDiag(A+m~1)),start=c(A=3,m=35,s=15),method='ML',control=nc))"),
  logistic = "ans(nlme(lw~A-log1p(exp((m-Time)/s)),d,fixed=A+m+s~1,random=list(Plot=pdDiag(A+m~1)),start=c(A=3,m=55,s=8),method='ML',control=nc))",
  nested = paste0("ans(nlme(", G, ",d,fixed=A+m+s~1,random=list(Field=pdDiag(A+m~1),Plot=pdDiag(A~1)),start=c(A=3,m=35,s=15),method='ML',control=nc))"),
  fields = "levels(d$Field)",
  by_field = paste0("ans(nlme(", G, ",d,fixed=A+m+s~Field-1,random=list(Plot=pdDiag(A~1)),start=c(rep(3,6),rep(35,6),rep(15,6)),method='ML',control=nc))"),
  days_to_8 = "{f<-nlme(lw~A-exp((m-Time)/s),d,fixed=A+m+s~Field-1,random=list(Plot=pdDiag(A~1)),start=c(rep(3,6),rep(35,6),rep(15,6)),method='ML',control=nc);b<-matrix(fixef(f),6);t8<-b[,2]-b[,3]*log(b[,1]-log(8));h<-data.frame(t8,V=substr(levels(d$Field),1,1),Y=substr(levels(d$Field),3,6));a<-anova(lm(t8~Y+V,h));list(days=t8,F=a['V','F value'],p=a['V','Pr(>F)'],P_minus_F=mean(t8[4:6])-mean(t8[1:3]))}",
  rates_by_field = "{k<-ave(d$Time,d$Plot,FUN=max)>ave(d$Time,d$Field,FUN=max)-3&ave(d$Time,d$Plot,FUN=min)<ave(d$Time,d$Field,FUN=min)+3;e<-d[k,];r<-sapply(split(e,e$Plot),function(z) coef(lm(lw~Time,z))[[2]]);g<-sapply(split(as.character(e$Field),e$Plot),function(z) z[1]);m<-tapply(r,g,mean);h<-data.frame(m=as.numeric(m),V=substr(names(m),1,1),Y=substr(names(m),3,6));a<-anova(lm(m~Y+V,h));list(plots=length(r),rates=h$m,F=a['V','F value'],p=a['V','Pr(>F)'])}",
  pooled = "{f<-nls(lw~A-exp((m-Time)/s),d,start=list(A=3,m=35,s=15));list(coef=as.numeric(coef(f)),se=as.numeric(sqrt(diag(vcov(f)))),rss=deviance(f))}",
  harvests = "{a<-log(subset(d,Year==1988&Variety=='F'&Time==14)$weight);b<-log(subset(d,Year==1988&Variety=='F'&Time==28)$weight);list(n=c(length(a),length(b)),rgr=(mean(b)-mean(a))/14,se=sqrt(var(a)/length(a)+var(b)/length(b))/14)}"))
case("growth-chick-exponential", "Exponential growth with random size and rate: a linear mixed model of the logarithm", "ChickWeight.csv",
  "Crowder & Hand (1990) Analysis of Repeated Measures, example 5.3; ChickWeight in R", RCORE, "Pinheiro & Bates (2000) ch 2",
  setup = c("library(nlme)", ANS), pkgs = N, tol = TOL, calls = c(
  random_both = "ans(lme(log(weight)~Time,d,random=~Time|Chick,method='ML',control=lmeControl(msTol=1e-12,tolerance=1e-10)))"))
case("growth-loblolly-gompertz", "Gompertz with random asymptote, constant and proportional scatter", "Loblolly.csv",
  "Kung (1986) Proceedings of the Statistical Computing Section 92-96; Loblolly in R", RCORE, "Pinheiro & Bates (2000) ch 8",
  setup = c(NC, "library(nlme)", ANS), pkgs = N, tol = TOL, calls = c(
  constant = "ans(nlme(height~A*exp(-exp((m-age)/s)),d,fixed=A+m+s~1,random=A~1|Seed,start=c(A=68,m=9,s=7),method='ML',control=nc))",
  proportional = "ans(nlme(log(height)~A-exp((m-age)/s),d,fixed=A+m+s~1,random=A~1|Seed,start=c(A=4.1,m=9,s=7),method='ML',control=nc))"))
