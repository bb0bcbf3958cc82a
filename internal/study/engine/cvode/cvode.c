#define _GNU_SOURCE
/* The cycles of engine/testdata/cycles.json by SUNDIALS CVODE, timed: the other
 * side of the comparison in docs/accuracy.md. Reads on standard input what
 * "engine cases" prints.
 *
 * Two sets of unknowns, the better one counts: (s, m, work) by crank angle, as the
 * program has them, and (temperature, mass, work) by crank angle, as textbooks do.
 * Stops as the program's: roots at choking and reversal, restarts there and at begin
 * and end of the burn; the peak is the root of the pressure's slope. The start, where
 * an opening's flow grows as a root, is by the root of the angle or by the angle: the
 * better one counts.
 */
#include <cvode/cvode.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>
#include <time.h>

#define R 287.05287
#define G 1.4
#define CV (R / (G - 1))
#define CP (G * CV)

static double crit, psimax;

typedef struct {
	char name[32];
	double bore, stroke, rod, ratio, th0, th1, omega, p0, t0, room, rings, twall, bstart, bend, energy;
	int burn;
	double area, edge, r50, w, h, l, rpeak, rtrapped, rwork;
	/* derived */
	double throw_, piston, vc, v0, m0, e0, factor, unit50, rootair, muair, charge;
	int burning, side, squared, natural;
	double origin;
	long calls;
} cell;

enum { OUTC, OUT, IN, INC };

static double cd(double r) { return 0.8414 + r * (-0.1002 + r * (0.8415 + r * (-3.9 + r * (4.6001 - 1.6827 * r)))); }
static double viscosity(double t) { return 1.458e-6 * t * sqrt(t) / (t + 110.4); }

static double psi(double r) {
	if (r >= 1) return 0;
	double x = exp(log(r) / 7), x2 = x * x;
	return x2 * x2 * x * sqrt(7 * (1 - x2));
}

static double seep(const cell *c, double p1, double p2, double t, double mu, double rt) {
	double q = c->w * c->h * c->h * c->h / (24 * c->l * R) * (p1 - p2) * (p1 + p2 + 12 / c->h * sqrt(M_PI / 2) * mu * rt) / (mu * t);
	q = 2 * q / (1 + sqrt(1 + 4 * c->h / (6 * c->l * c->w) / mu * q));
	return fmin(q, c->w * c->h * p1 / rt * psimax);
}

static double volume(const cell *c, double th, double *slope) {
	double s, k;
	sincos(th, &s, &k);
	double y = c->throw_ * s, root = sqrt(c->rod * c->rod - y * y), x = c->throw_ * k;
	*slope = c->piston * y * (1 + x / root);
	return c->vc + c->piston * (c->rod + c->throw_ - x - root);
}

static double angle(const cell *c, double x) { return c->squared ? c->origin + x * x : x; }

/* y[0] is s or T/T0, y[1] mass over m0, y[2] work over p0 V0 */
static int rates(double x, const double *y, double *d, cell *c, double *pressure, double *slope) {
	c->calls++;
	double jac = c->squared ? 2 * x : 1, th = angle(c, x), dv, v = volume(c, th, &dv), b = c->v0 / v, lb = log(b), m = y[1];
	double p, t, s, b04 = 0;
	if (c->natural) {
		t = c->t0 * y[0];
		p = m * c->m0 * R * t / v;
		s = 0;
	} else {
		s = y[0];
		b04 = exp(0.4 * lb);
		p = c->p0 * s * b * b04;
		t = c->t0 * s * b04 / m;
	}
	if (!(p > 0) || !(t > 0) || !(m > 0)) return 1;
	/* Hohenberg: p^0.8 T^-0.4 V^-0.06 in either set of unknowns */
	double h = c->natural ? c->factor * exp(0.4 * log(y[0]) + 0.8 * log(m) + 0.86 * lb) : c->factor * exp(0.4 * log(s * m) + 1.02 * lb);
	double wall = h * (2 * c->piston + 4 * v / c->bore) * (t - c->twall);
	double rt = sqrt(R * t), f, r, tt = t, pp = c->room;
	switch (c->side) {
	case OUTC: f = p / rt * psimax, r = pp / p; break;
	case OUT: f = p / rt * psi(pp / p), r = pp / p; break;
	case IN: f = -pp / c->rootair * psi(p / pp), r = p / pp, tt = c->t0; break;
	default: f = -pp / c->rootair * psimax, r = p / pp, tt = c->t0;
	}
	f *= c->rings + c->area * (1 - c->edge) + c->area * c->edge / c->unit50 * cd(r);
	if (c->side <= OUT)
		f += seep(c, p, pp, t, viscosity(t), rt);
	else
		f -= seep(c, pp, p, c->t0, c->muair, c->rootair);
	double per = jac / c->omega, heat = (-wall - CP * f * tt) * per / c->e0;
	if (c->burning) {
		double w = c->bend - c->bstart, z = (th - c->bstart) / w;
		if (z > 0) heat += jac * c->charge * 15 / w * z * z * exp(-5 * z * z * z);
	}
	d[1] = -f * per / c->m0;
	d[2] = p * dv * jac / c->e0;
	if (c->natural) {
		/* m cv dT = heat - work - cv T dm, over p0 V0 = m0 R T0 */
		d[0] = ((heat - d[2]) * (G - 1) - y[0] * d[1]) / m;
		*slope = d[0] / y[0] + d[1] / m - dv * jac / v;
	} else {
		d[0] = (G - 1) / b04 * heat;
		*slope = d[0] / s - G * dv * jac / v;
	}
	*pressure = p;
	return 0;
}

static int rhs(realtype x, N_Vector y, N_Vector d, void *data) {
	double p, s;
	return rates(x, N_VGetArrayPointer(y), N_VGetArrayPointer(d), data, &p, &s);
}

static int roots(realtype x, N_Vector y, realtype *g, void *data) {
	cell *c = data;
	double d[3], p, s;
	if (rates(x, N_VGetArrayPointer(y), d, c, &p, &s)) return 1;
	g[0] = s;
	g[1] = p / c->room - 1;
	g[2] = p * crit / c->room - 1;
	g[3] = p / (crit * c->room) - 1;
	return 0;
}

typedef struct {
	double peak, trapped, work;
} result;

static SUNContext ctx;

static int solve(cell *c, int method, double tol, int squared, result *out) {
	N_Vector y = N_VNew_Serial(3, ctx), abstol = N_VNew_Serial(3, ctx);
	double *v = N_VGetArrayPointer(y);
	v[0] = v[1] = 1, v[2] = 0;
	double *at = N_VGetArrayPointer(abstol);
	at[0] = at[1] = at[2] = tol;
	void *mem = CVodeCreate(method, ctx);
	SUNMatrix A = NULL;
	SUNLinearSolver ls = NULL;
	SUNNonlinearSolver nls = NULL;
	c->burning = 0;
	c->side = c->p0 < c->room ? (c->p0 < crit * c->room ? INC : IN) : OUT;
	c->squared = squared && c->p0 == c->room;
	c->origin = c->th0;
	double x = c->squared ? 0 : c->th0, dummy = 0;
	int bad = 0;
	CVodeInit(mem, rhs, x, y);
	/* s and m stand near 1, work near 0: absolute tolerances are the program's */
	CVodeSVtolerances(mem, c->natural ? tol : 0, abstol);
	CVodeSetUserData(mem, c);
	if (method == CV_BDF) {
		A = SUNDenseMatrix(3, 3, ctx);
		ls = SUNLinSol_Dense(y, A, ctx);
		CVodeSetLinearSolver(mem, ls, A);
	} else {
		nls = SUNNonlinSol_FixedPoint(y, 0, ctx);
		CVodeSetNonlinearSolver(mem, nls);
	}
	CVodeRootInit(mem, 4, roots);
	CVodeSetNoInactiveRootWarn(mem);
	CVodeSetMaxNumSteps(mem, 100000);
	double stops[4];
	int n = 0;
	if (c->burn) stops[n++] = c->bstart;
	stops[n++] = 0;
	if (c->burn) stops[n++] = c->bend;
	stops[n++] = c->th1;
	out->peak = c->p0;
	for (int i = 0; i < n && !bad;) {
		double to = c->squared ? sqrt(stops[i] - c->origin) : stops[i];
		CVodeSetStopTime(mem, to);
		int flag = CVode(mem, to, y, &x, CV_NORMAL);
		if (flag == CV_ROOT_RETURN) {
			int found[4];
			CVodeGetRootInfo(mem, found);
			double d[3], p, s;
			rates(x, v, d, c, &p, &s);
			if (found[0] && p > out->peak) out->peak = p;
			int old = c->side;
			if (found[1]) c->side = found[1] > 0 ? OUT : IN;
			if (found[2]) c->side = found[2] > 0 ? OUTC : OUT;
			if (found[3]) c->side = found[3] > 0 ? IN : INC;
			if (c->side != old) {
				double th = angle(c, x);
				c->squared = squared && found[1];
				c->origin = th;
				x = c->squared ? 0 : th;
				CVodeReInit(mem, x, y);
			}
		} else if (flag == CV_TSTOP_RETURN || flag == CV_SUCCESS) {
			double th = stops[i++], d[3], p, s;
			int again = c->squared;
			c->squared = 0;
			rates(th, v, d, c, &p, &s);
			if (p > out->peak) out->peak = p;
			if (th == 0) out->trapped = v[1] * c->m0;
			if (c->burn && th == c->bstart) {
				c->burning = again = 1;
				c->charge = c->energy * v[1] * c->m0 / c->e0;
			}
			if (c->burn && th == c->bend) c->burning = 0, again = 1;
			x = th;
			if (again && i < n) CVodeReInit(mem, x, y);
		} else
			bad = 1, fprintf(stderr, "%s: CVODE gave up with flag %d at %g, tolerance %g\n", c->name, flag, angle(c, x), tol);
	}
	(void)dummy;
	out->work = v[2] * c->e0;
	CVodeFree(&mem);
	if (ls) SUNLinSolFree(ls), SUNMatDestroy(A);
	if (nls) SUNNonlinSolFree(nls);
	N_VDestroy(y);
	N_VDestroy(abstol);
	return bad;
}

static double processor(void) {
	struct timespec t;
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return t.tv_sec * 1e6 + t.tv_nsec * 1e-3;
}

int main(void) {
	SUNContext_Create(NULL, &ctx);
	crit = pow(2 / (G + 1), G / (G - 1));
	psimax = sqrt(G) * pow(2 / (G + 1), (G + 1) / (2 * (G - 1)));
	cell c;
	while (memset(&c, 0, sizeof c), scanf("%31s %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %d %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf", c.name, &c.bore, &c.stroke, &c.rod, &c.ratio, &c.th0, &c.th1, &c.omega,
	                                    &c.p0, &c.t0, &c.room, &c.rings, &c.twall, &c.burn, &c.bstart, &c.bend, &c.energy, &c.area, &c.edge, &c.r50, &c.w, &c.h, &c.l, &c.rpeak, &c.rtrapped, &c.rwork) == 26) {
		double slope;
		c.throw_ = c.stroke / 2;
		c.piston = M_PI / 4 * c.bore * c.bore;
		c.vc = c.piston * c.stroke / (c.ratio - 1);
		c.v0 = volume(&c, c.th0, &slope);
		c.e0 = c.p0 * c.v0;
		c.m0 = c.e0 / (R * c.t0);
		c.unit50 = cd(c.r50);
		c.rootair = sqrt(R * c.t0);
		c.muair = viscosity(c.t0);
		c.factor = 130 * pow(c.v0, -0.06) * pow(c.p0 * 1e-5, 0.8) * pow(c.t0, -0.4) * pow(c.stroke * c.omega / M_PI + 1.4, 0.8);
		for (int method = CV_ADAMS; method <= CV_BDF; method++)
			for (int natural = 0; natural < 2; natural++)
				for (int squared = 0; squared < 2; squared++)
					for (int i = 0; i <= 18; i++) {
						double tol = pow(10, -4 - i * 0.5), least = 1e30;
						result r = {0};
						int bad = 0;
						c.natural = natural;
						for (int k = 0; k < 3 && !bad; k++) {
							const int lot = 60;
							double from = processor();
							for (int j = 0; j < lot && !bad; j++) c.calls = 0, bad = solve(&c, method, tol, squared, &r);
							least = fmin(least, (processor() - from) / lot);
						}
						if (!bad)
							printf("%s%s%s %s %.1e %.2f %.2e %.2e %.2e %ld\n", method == CV_ADAMS ? "adams" : "bdf", natural ? "-temperature" : "", squared ? "-root" : "", c.name, tol, least, fabs(r.peak / c.rpeak - 1),
							       fabs(r.trapped / c.rtrapped - 1), fabs(r.work / c.rwork - 1), c.calls);
					}
	}
	return 0;
}
