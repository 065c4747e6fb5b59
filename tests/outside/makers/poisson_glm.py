import numpy as np, statsmodels.api as sm
from scipy.interpolate import BSpline
rng=np.random.default_rng(20260503)
m=8
days=np.sort(rng.integers(60,240,60)); hours=np.round(rng.uniform(0.5,6,60),2)
t=(days-0.5)/365
lam=hours*2.5*np.exp(-0.5*((days-130)/28)**2)
y=rng.poisson(lam)
# whole year needed so that the basis is identified
extra=np.arange(10,366,24); days=np.r_[days,extra]; hours=np.r_[hours,np.full(len(extra),2.0)]; y=np.r_[y,rng.poisson(0.4,len(extra))]
t=(days-0.5)/365
X=np.zeros((len(t),m))
for j in range(m):
    b=BSpline.basis_element(np.arange(5),extrapolate=False)
    for wrap in (-1,0,1):
        u=(t+wrap)*m-(j-3)
        v=b(u); v[np.isnan(v)]=0; X[:,j]+=v
assert np.allclose(X.sum(1),1)
r=sm.GLM(y,X,family=sm.families.Poisson(),offset=np.log(hours)).fit(tol=1e-13,maxiter=200)
with open('tests/reference/data/poisson_glm.csv','w') as f:
    f.write("# Poisson regression of counts on a cyclic cubic B-spline basis of 8 columns with log hours as offset.\n# Fitted by statsmodels %s GLM (BSD licence), basis from scipy %s BSpline; made by tests/outside/makers/poisson_glm.py.\n# kind,day_of_365,hours,count  or  kind,column,coefficient,standard_error  or  deviance,,value,\n"%(sm.__version__ if hasattr(sm,'__version__') else __import__('statsmodels').__version__,__import__('scipy').__version__))
    for d,h,c in zip(days,hours,y): f.write(f"row,{d},{h},{c}\n")
    for j in range(m): f.write(f"beta,{j},{r.params[j]:.12g},{r.bse[j]:.12g}\n")
    f.write(f"deviance,,{r.deviance:.12g},\n")
print(r.params, r.bse, r.deviance)
