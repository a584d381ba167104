// Solves a pacing problem as a sparse nonlinear program with Ipopt, exact first and
// second derivatives. It knows nothing of the planner it serves to check.
//
//   g++ -O2 -std=c++17 solve.cpp -o solve $(pkg-config --cflags --libs ipopt)
//   ./solve < problem > answer        (both are written and read by make.py)
//
// Power is free on each piece of road. Each 10 m (5 m where powers alternate) are one interval of three-point Gauss
// collocation (order six) of d(v²/2)/dx = (ηP/v − F(v) − B)/(m + I/r²); the first piece
// from rest is cut into intervals of s with x = L·s³, in which the speed is smooth.
// Above and below critical power P = CP + a − d with a, d ≥ 0, and over a piece of T s
//   W_next = W₀ − (W₀ − W)·exp(−ψ(d)·T) − a·T,
// exact where one of them is zero, and less than is true where neither is, so that neither
// optimum has both. Recovery that is faster than spending (rates above 1, Bartram 2018)
// turns that round; there each piece keeps to the side of critical power that the start
// gives it, and make.py tries many patterns of sides. It rides the powers anew in any case.
#include <cmath>
#include <cstdio>
#include <iostream>
#include <limits>
#include <vector>
#include "IpIpoptApplication.hpp"
#include "IpSolveStatistics.hpp"
#include "IpTNLP.hpp"
using namespace Ipopt;
using std::vector;

struct Piece { double h, drag, wind, steady, lim0, lim1; };

struct Problem {
  int n = 0;
  double inertia, eta, bearing, v0, cp, w0, rate, reserve, pmin, pcap, pmax, mean;
  int law; // 0 proportional, 1 Bartram 2018
  int exclusive; // where a start is above critical power, so is its answer: for recoveries faster than the spending
  vector<Piece> road;
  bool limited = false;
  double force(int k, double v) const {
    const Piece &p = road[k];
    double air = v + p.wind;
    return p.drag * air * std::fabs(air) + p.steady + bearing * v;
  }
  double psi(double d) const { // 1/s
    if (law == 1) return rate * (std::pow(d + eps, 0.688) - std::pow(eps, 0.688)) / 2287.2;
    return rate * d / w0;
  }
  double dpsi(double d) const { return law == 1 ? rate * 0.688 * std::pow(d + eps, -0.312) / 2287.2 : rate / w0; }
  double ddpsi(double d) const { return law == 1 ? -rate * 0.688 * 0.312 * std::pow(d + eps, -1.312) / 2287.2 : 0; }
  static constexpr double eps = 1e-3;
};

static const double S15 = std::sqrt(15.0);
static const double C[3] = {0.5 - S15 / 10, 0.5, 0.5 + S15 / 10};
static const double B[3] = {5.0 / 18, 8.0 / 18, 5.0 / 18};
static const double A[3][3] = {{5.0 / 36, 2.0 / 9 - S15 / 15, 5.0 / 36 - S15 / 30},
                               {5.0 / 36 + S15 / 24, 2.0 / 9, 5.0 / 36 - S15 / 24},
                               {5.0 / 36 + S15 / 30, 2.0 / 9 + S15 / 15, 5.0 / 36}};

struct Interval { int piece; double g[3], at[3], end; bool last; }; // weights dx, and metres into the piece

static const double PU = 100, BU = 100; // units of power in W and of braking force in N

class Pacing : public TNLP {
public:
  const Problem &p;
  vector<Interval> iv;
  vector<double> start; // powers
  vector<double> power, speed, balance;
  double time = 0; int status = -1, iterations = 0;
  double muInit;
  int nv, nb, nw, nT, na, nd, N; // offsets
  bool energy() const { return p.mean > 0; }

  explicit Pacing(const Problem &q) : p(q) {
    for (int k = 0; k < p.n; k++) {
      double L = p.road[k].h;
      bool rest = k == 0 && p.v0 < 3;
      int parts = rest ? 6 : std::ceil(L / (p.exclusive ? 5.3 : 10.6));
      for (int i = 0; i < parts; i++) {
        Interval t; t.piece = k; t.last = i == parts - 1;
        for (int j = 0; j < 3; j++) {
          double s = (i + C[j]) / parts;
          t.g[j] = rest ? 3 * L * s * s / parts : L / parts;
          t.at[j] = rest ? L * s * s * s : L * s;
        }
        double s = (i + 1.0) / parts;
        t.end = t.last ? L : rest ? L * s * s * s : L * s;
        iv.push_back(t);
      }
    }
    int m = iv.size();
    // speeds: node i at 4i, stages 4i+1..3, final node 4m
    nv = 0; nb = 4 * m + 1; nT = nb + (p.limited ? 3 * m : 0); na = nT + p.n; nd = na + p.n;
    nw = nd + (energy() ? 0 : p.n); N = nw + (energy() ? 0 : p.n + 1);
  }
  double P(const double *x, int k) const { return energy() ? PU * x[na + k] : p.cp + PU * (x[na + k] - x[nd + k]); }

  bool hasCap() const { return !energy() && p.pmax > 0; }
  bool bounded() const { return !energy() && p.pmin > 0; }
  int rows() const {
    int m = iv.size();
    return 4 * m + p.n + (energy() ? 1 : p.n) + (hasCap() ? p.n : 0) + (bounded() ? p.n : 0);
  }

  // walk visits each row; f(row kind …) through the three callbacks below.
  bool get_nlp_info(Index &n, Index &m, Index &nj, Index &nh, IndexStyleEnum &st) override {
    n = N; m = rows(); st = C_STYLE;
    vector<int> r, c; vector<double> v; jac(nullptr, r, c, v); nj = r.size();
    r.clear(); c.clear(); v.clear(); hess(nullptr, 0, nullptr, r, c, v); nh = r.size();
    return true;
  }
  // slowest bounds the speed from below: a ride slower than 0.5 m/s after 100 m is none.
  double slowest(int i) const {
    double done = 0;
    for (int k = 0; k < (i > 0 ? iv[(i - 1) / 4].piece : 0) && done <= 100; k++) done += p.road[k].h;
    return done > 90 ? 0.51 : 0.005;
  }
  bool get_bounds_info(Index n, Number *xl, Number *xu, Index m, Number *gl, Number *gu) override {
    const double inf = 2e19;
    int M = iv.size();
    for (int i = 0; i <= 4 * M; i++) { xl[i] = slowest(i); xu[i] = 60; }
    double first = p.v0 > 0.01 ? p.v0 : 0.0;
    xl[0] = xu[0] = first;
    if (p.limited) {
      auto limit = [&](int k, double at) { const Piece &q = p.road[k]; return std::sqrt(q.lim0 + (q.lim1 - q.lim0) * at / q.h); };
      for (int i = 0; i < M; i++) {
        int k = iv[i].piece;
        for (int j = 0; j < 3; j++) xu[4 * i + 1 + j] = std::min(60.0, limit(k, iv[i].at[j]));
        if (iv[i].last) {
          double l = limit(k, p.road[k].h);
          if (k + 1 < p.n) l = std::min(l, std::sqrt(p.road[k + 1].lim0));
          xu[4 * (i + 1)] = std::min(60.0, l);
        }
      }
      for (int i = 0; i < 3 * M; i++) { xl[nb + i] = 0; xu[nb + i] = inf; }
    }
    for (int k = 0; k < p.n; k++) {
      xl[nT + k] = 0; xu[nT + k] = inf;
      if (energy()) { xl[na + k] = p.pmin / PU; xu[na + k] = p.pcap / PU; continue; }
      xl[na + k] = 0; xu[na + k] = (p.pcap - p.cp) / PU;
      xl[nd + k] = 0; xu[nd + k] = (p.cp - p.pmin) / PU;
      if (p.exclusive) { if (start[k] >= p.cp) xu[nd + k] = 0; else xu[na + k] = 0; }
      if (p.pcap < p.cp) { xu[na + k] = 0; xl[nd + k] = (p.cp - p.pcap) / PU; }
    }
    if (!energy()) {
      for (int k = 0; k <= p.n; k++) { xl[nw + k] = 0; xu[nw + k] = 1; }
      xl[nw] = xu[nw] = 1;
      xl[nw + p.n] = p.reserve / p.w0;
    }
    int r = 0;
    for (; r < 4 * M + p.n; r++) gl[r] = gu[r] = 0;
    if (energy()) { gl[r] = -inf; gu[r] = 0; r++; }
    else for (int k = 0; k < p.n; k++, r++) gl[r] = gu[r] = 0;
    if (hasCap()) for (int k = 0; k < p.n; k++, r++) { gl[r] = -inf; gu[r] = 0; }
    if (bounded()) for (int k = 0; k < p.n; k++, r++) { gl[r] = (p.pmin - p.cp) / PU; gu[r] = inf; }
    return true;
  }

  // ride simulates powers for a starting point; they are kept to the limit and W ≥ 0.
  bool ride(const vector<double> &pw, double scale, double *x, double &room) const {
    int M = iv.size(); double v = p.v0, W = p.w0; room = 1e9; double extra = 0;
    vector<double> T(p.n, 0.0);
    if (x) { x[0] = v; if (!energy()) x[nw] = 1; }
    for (int i = 0; i < M; i++) {
      int k = iv[i].piece;
      double base = energy() ? 0 : p.cp, pk = pw[k] > base ? base + (pw[k] - base) * scale : pw[k];
      pk = std::min(std::max(pk, p.pmin), p.pcap);
      if (!energy() && p.pmax > 0) pk = std::min(pk, p.cp + (p.pmax - p.cp) * std::max(W, 0.0) / p.w0 * 0.98);
      double L = p.road[k].h, a = 0;
      // from at0 to at1 in fine steps of y = v³
      double from = i > 0 && iv[i - 1].piece == k ? iv[i - 1].end : 0, to = iv[i].end;
      double targets[4] = {iv[i].at[0], iv[i].at[1], iv[i].at[2], to};
      a = from;
      for (int j = 0; j < 4; j++) {
        int sub = 12; double h = (targets[j] - a) / sub;
        for (int s = 0; s < sub; s++) {
          auto f = [&](double y) { double u = std::cbrt(std::max(y, 1e-9)); return 3 / p.inertia * (p.eta * pk - p.force(k, u) * u); };
          double y = v * v * v, k1 = f(y), k2 = f(y + h / 2 * k1), k3 = f(y + h / 2 * k2), k4 = f(y + h * k3);
          double yn = y + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
          if (!(yn > 1e-3) && i > 6) return false;
          double vn = std::cbrt(std::max(yn, 1e-6));
          T[k] += 2 * h / (v + vn);
          v = vn;
        }
        a = targets[j];
        if (p.limited) {
          const Piece &q = p.road[k];
          double l = std::sqrt(q.lim0 + (q.lim1 - q.lim0) * a / L);
          if (v > l) v = l;
        }
        if (x) x[j < 3 ? 4 * i + 1 + j : 4 * (i + 1)] = v;
      }
      if (iv[i].last) {
        double e = pk - p.cp;
        if (energy()) { extra += (p.mean - pk) * T[k]; if (x) x[na + k] = pk / PU; }
        else {
          W = e > 0 ? W - e * T[k] : p.w0 - (p.w0 - W) * std::exp(-p.psi(-e) * T[k]);
          room = std::min(room, W);
          if (x) { x[na + k] = std::max(e, 0.0) / PU; x[nd + k] = std::max(-e, 0.0) / PU; x[nw + k + 1] = std::max(W, 0.0) / p.w0; }
        }
        if (x) x[nT + k] = T[k];
      }
    }
    room = energy() ? extra : std::min(room, W - p.reserve);
    return true;
  }

  bool get_starting_point(Index n, bool, Number *x, bool, Number *, Number *, Index, bool, Number *) override {
    double lo = 0, hi = 8, room; // powers above critical power are scaled
    for (int i = 0; i < 40; i++) { double mid = (lo + hi) / 2; bool ok = ride(start, mid, nullptr, room); if (!ok || room >= 0) lo = mid; else hi = mid; }
    for (int i = 0; i < N; i++) x[i] = 0;
    double s = lo; while (!ride(start, s, x, room) && s < 4) s = 1.05 * s + 0.01;
    x[0] = p.v0;
    return true;
  }
  bool eval_f(Index, const Number *x, bool, Number &f) override { f = 0; for (int k = 0; k < p.n; k++) f += x[nT + k]; return true; }
  bool eval_grad_f(Index n, const Number *, bool, Number *g) override { for (int i = 0; i < n; i++) g[i] = 0; for (int k = 0; k < p.n; k++) g[nT + k] = 1; return true; }

  struct F { double f, fv, fvv, fp, fpv; };
  F rate(int k, double v, double pw) const { // (ηP/v − F)/m
    const Piece &q = p.road[k]; double air = v + q.wind, m = p.inertia, e = p.eta;
    return {(e * pw / v - p.force(k, v)) / m, (-e * pw / (v * v) - 2 * q.drag * std::fabs(air) - p.bearing) / m,
            (2 * e * pw / (v * v * v) - 2 * q.drag * (air > 0 ? 1 : -1)) / m, e / (m * v), -e / (m * v * v)};
  }
  bool eval_g(Index, const Number *x, bool, Index, Number *g) override {
    int M = iv.size(), r = 0;
    for (int i = 0; i < M; i++) {
      const Interval &t = iv[i]; double f[3], v0 = x[4 * i];
      for (int j = 0; j < 3; j++) { f[j] = rate(t.piece, x[4 * i + 1 + j], P(x, t.piece)).f * t.g[j]; if (p.limited) f[j] -= BU * x[nb + 3 * i + j] / p.inertia * t.g[j]; }
      for (int j = 0; j < 4; j++) {
        double v = x[4 * i + 1 + j], sum = 0;
        for (int l = 0; l < 3; l++) sum += (j < 3 ? A[j][l] : B[l]) * f[l];
        g[r++] = (v * v - v0 * v0) / 2 - sum;
      }
    }
    for (int k = 0; k < p.n; k++) g[r + k] = x[nT + k];
    for (int i = 0; i < M; i++) for (int j = 0; j < 3; j++) g[r + iv[i].piece] -= iv[i].g[j] * B[j] / x[4 * i + 1 + j];
    r += p.n;
    if (energy()) { double s = 0; for (int k = 0; k < p.n; k++) s += (PU * x[na + k] - p.mean) / p.mean * x[nT + k]; g[r++] = s; return true; }
    for (int k = 0; k < p.n; k++) {
      double a = PU * x[na + k], d = PU * x[nd + k], T = x[nT + k];
      g[r++] = x[nw + k + 1] - 1 + (1 - x[nw + k]) * std::exp(-p.psi(d) * T) + a * T / p.w0;
    }
    if (hasCap()) for (int k = 0; k < p.n; k++) g[r++] = x[na + k] - (p.pmax - p.cp) / PU * x[nw + k + 1];
    if (bounded()) for (int k = 0; k < p.n; k++) g[r++] = x[na + k] - x[nd + k];
    return true;
  }
  void jac(const double *x, vector<int> &R, vector<int> &Cc, vector<double> &V) const {
    int M = iv.size(), r = 0;
    auto put = [&](int row, int col, double v) { R.push_back(row); Cc.push_back(col); V.push_back(v); };
    for (int i = 0; i < M; i++) {
      const Interval &t = iv[i]; int k = t.piece; F f[3] = {};
      if (x) for (int j = 0; j < 3; j++) f[j] = rate(k, x[4 * i + 1 + j], P(x, k));
      for (int j = 0; j < 4; j++, r++) {
        put(r, 4 * i, x ? -x[4 * i] : 0);
        double dp = 0;
        for (int l = 0; l < 3; l++) {
          double c = (j < 3 ? A[j][l] : B[l]) * t.g[l];
          put(r, 4 * i + 1 + l, x ? -c * f[l].fv + (l == j ? x[4 * i + 1 + j] : 0) : 0);
          dp += -c * f[l].fp * PU;
          if (p.limited) put(r, nb + 3 * i + l, c * BU / p.inertia);
        }
        if (j == 3) put(r, 4 * i + 4, x ? x[4 * i + 4] : 0);
        put(r, na + k, dp);
        if (!energy()) put(r, nd + k, -dp);
      }
    }
    for (int k = 0; k < p.n; k++) put(r + k, nT + k, 1);
    for (int i = 0; i < M; i++) for (int j = 0; j < 3; j++) { double v = x ? x[4 * i + 1 + j] : 1; put(r + iv[i].piece, 4 * i + 1 + j, iv[i].g[j] * B[j] / (v * v)); }
    r += p.n;
    if (energy()) { for (int k = 0; k < p.n; k++) { put(r, na + k, x ? PU * x[nT + k] / p.mean : 0); put(r, nT + k, x ? (PU * x[na + k] - p.mean) / p.mean : 0); } return; }
    for (int k = 0; k < p.n; k++, r++) {
      double a = 0, d = 0, T = 0, w = 0, e = 1;
      if (x) { a = PU * x[na + k]; d = PU * x[nd + k]; T = x[nT + k]; w = x[nw + k]; e = std::exp(-p.psi(d) * T); }
      put(r, nw + k + 1, 1); put(r, nw + k, -e); put(r, na + k, PU * T / p.w0);
      put(r, nd + k, -(1 - w) * e * p.dpsi(d) * T * PU);
      put(r, nT + k, -(1 - w) * e * p.psi(d) + a / p.w0);
    }
    if (hasCap()) for (int k = 0; k < p.n; k++, r++) { put(r, na + k, 1); put(r, nw + k + 1, -(p.pmax - p.cp) / PU); }
    if (bounded()) for (int k = 0; k < p.n; k++, r++) { put(r, na + k, 1); put(r, nd + k, -1); }
  }
  bool eval_jac_g(Index, const Number *x, bool, Index, Index nj, Index *ir, Index *jc, Number *val) override {
    vector<int> R, Cc; vector<double> V; jac(x, R, Cc, V);
    for (int i = 0; i < nj; i++) if (val) val[i] = V[i]; else { ir[i] = R[i]; jc[i] = Cc[i]; }
    return true;
  }
  void hess(const double *x, double, const double *lam, vector<int> &R, vector<int> &Cc, vector<double> &V) const {
    int M = iv.size(), r = 0;
    auto put = [&](int a, int b, double v) { if (a < b) std::swap(a, b); R.push_back(a); Cc.push_back(b); V.push_back(v); };
    for (int i = 0; i < M; i++) {
      const Interval &t = iv[i]; int k = t.piece;
      double l0 = 0; if (x) for (int j = 0; j < 4; j++) l0 += lam[r + j];
      put(4 * i, 4 * i, -l0);
      for (int l = 0; l < 3; l++) {
        double vv = 0, pv = 0;
        if (x) {
          F f = rate(k, x[4 * i + 1 + l], P(x, k)); double s = 0;
          for (int j = 0; j < 4; j++) s += lam[r + j] * (j < 3 ? A[j][l] : B[l]) * t.g[l];
          vv = -s * f.fvv + lam[r + l]; pv = -s * f.fpv * PU;
        }
        put(4 * i + 1 + l, 4 * i + 1 + l, vv); put(4 * i + 1 + l, na + k, pv);
        if (!energy()) put(4 * i + 1 + l, nd + k, -pv);
      }
      put(4 * i + 4, 4 * i + 4, x ? lam[r + 3] : 0);
      r += 4;
    }
    for (int i = 0; i < M; i++) for (int j = 0; j < 3; j++) { double v = x ? x[4 * i + 1 + j] : 1; put(4 * i + 1 + j, 4 * i + 1 + j, x ? -2 * lam[r + iv[i].piece] * iv[i].g[j] * B[j] / (v * v * v) : 0); }
    r += p.n;
    if (energy()) { for (int k = 0; k < p.n; k++) put(na + k, nT + k, x ? lam[r] * PU / p.mean : 0); return; }
    for (int k = 0; k < p.n; k++, r++) {
      double d = 0, T = 0, w = 0, e = 1, l = 0;
      if (x) { d = PU * x[nd + k]; T = x[nT + k]; w = x[nw + k]; e = std::exp(-p.psi(d) * T); l = lam[r]; }
      double s = p.psi(d), ds = p.dpsi(d), dds = p.ddpsi(d), u = 1 - w;
      put(na + k, nT + k, l * PU / p.w0);
      put(nw + k, nd + k, l * e * ds * T * PU);
      put(nw + k, nT + k, l * e * s);
      put(nd + k, nd + k, l * u * e * (ds * ds * T * T - dds * T) * PU * PU);
      put(nd + k, nT + k, l * u * e * (s * ds * T - ds) * PU);
      put(nT + k, nT + k, l * u * e * s * s);
    }
    if (bounded()) r += p.n;
  }
  bool eval_h(Index, const Number *x, bool, Number of, Index, const Number *lam, bool, Index nh, Index *ir, Index *jc, Number *val) override {
    vector<int> R, Cc; vector<double> V; hess(val ? x : nullptr, of, lam, R, Cc, V);
    for (int i = 0; i < nh; i++) if (val) val[i] = V[i]; else { ir[i] = R[i]; jc[i] = Cc[i]; }
    return true;
  }
  void finalize_solution(SolverReturn s, Index, const Number *x, const Number *, const Number *, Index, const Number *, const Number *, Number f, const IpoptData *, IpoptCalculatedQuantities *) override {
    status = s; time = f; power.clear(); speed.clear(); balance.clear();
    for (int k = 0; k < p.n; k++) power.push_back(P(x, k));
  }
};

int main(int argc, char **argv) {
  Problem p;
  std::cin >> p.n >> p.inertia >> p.eta >> p.bearing >> p.v0 >> p.cp >> p.w0 >> p.rate >> p.law >> p.exclusive >> p.reserve >> p.pmin >> p.pcap >> p.pmax >> p.mean;
  p.road.resize(p.n);
  for (auto &q : p.road) { std::cin >> q.h >> q.drag >> q.wind >> q.steady >> q.lim0 >> q.lim1; p.limited |= q.lim0 < 3599; }
  int starts; std::cin >> starts;
  for (int s = 0; s < starts; s++) {
    double mu; std::cin >> mu;
    SmartPtr<Pacing> nlp = new Pacing(p);
    nlp->start.resize(p.n); for (auto &w : nlp->start) std::cin >> w;
    SmartPtr<IpoptApplication> app = IpoptApplicationFactory();
    auto o = app->Options();
    o->SetStringValue("sb", "yes");
    o->SetIntegerValue("print_level", argc > 1 ? 5 : 0);
    if (argc > 2) o->SetStringValue("derivative_test", "second-order");
    o->SetNumericValue("tol", 1e-8); o->SetNumericValue("acceptable_tol", 1e-6); o->SetIntegerValue("max_iter", 400);
    o->SetNumericValue("mu_init", mu); o->SetNumericValue("bound_push", std::min(1e-2, mu)); o->SetNumericValue("bound_frac", std::min(1e-2, mu));
    o->SetNumericValue("bound_relax_factor", 0);
    o->SetStringValue("honor_original_bounds", "yes");
    app->Initialize();
    app->OptimizeTNLP(GetRawPtr(nlp));
    std::printf("%d %.9g %d\n", nlp->status, nlp->time, (int)app->Statistics()->IterationCount());
    for (double w : nlp->power) std::printf("%.6f ", w);
    std::printf("\n"); std::fflush(stdout);
  }
}
