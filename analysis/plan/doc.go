// Package plan finds the power, metre by metre, that rides a course in the least time
// within what a rider can do.
//
// # The problem
//
// The road is cut into cells k = 0…n−1 of 5 to 12 m, on each of which gradient, air and
// power p hold. With the kinetic energy e and the stock w (W′, or the work left above a
// mean power) at the cells' ends as states, as in package ride,
//
//	minimise  Σ T(e_k, e_k+1)                                             the time
//	subject to
//	  e_k+1 = e_k + η·p_k·T − h·F̄(e_k, e_k+1) − β_k                       motion, brakes β ≥ 0
//	  w_k+1 = w_k + T·(−a(p_k) + (W′₀ − w̄)·b(p_k)),  w̄ = (w_k + w_k+1)/2   work above CP
//	  w_k ≥ 0, w_n ≥ end reserve,  e_k ≤ what bends and brakes allow
//	  least ≤ p_k ≤ min(most, CP + (P_max − CP)·w_k+1/W′₀)
//
// F̄ is the mean resistance of Martin et al. 1998 over the cell and T the time between two
// speeds at constant net power, exact from rest. a is the power above CP and b the
// recovery below it (Skiba et al. 2015: b = (CP − p)/W′₀). Powers may be free in every
// cell, or change by no more than a given rate.
//
// # The method
//
// The program is not convex (recovery depends on the stock) but has one control in a
// chain of two states. It is solved by an interior-point method whose Newton steps are
// differential dynamic programming: bounds become logarithmic barriers with multipliers
// of their own (primal–dual); a backward sweep expands the barrier function and the
// equations to second order around the present ride and eliminates the control cell by
// cell (Riccati recursion; Jacobson & Mayne 1970, Differential Dynamic Programming); a
// forward sweep rides the new powers with the sweep's feedback, so that every iterate is
// a ride that obeys the equations and the bounds (compare Pavlov, Shames, Manzie 2021,
// Interior point differential dynamic programming, IEEE Trans. Control Syst. Technol.
// 29:2720–2727; both citations from memory). The time of a sweep grows with n; some 40
// are needed whatever n is.
//
// In the optimum one watt more is worth the same everywhere where the power is free: the
// value of kinetic energy, −η·∂T/∂e, balances the price of the stock, −∂T/∂w. The price
// is constant while power stays above CP, and rises as the stock recovers (Pontryagin).
//
// Scouts go first, on a grid of longer cells: since W′ recovers the better the more of it
// is spent, it can be worth about the same to spend it on rolling ground or to save it for
// a last climb, and a search from one side doesn't find the other. The fastest is followed
// on the plan's own grid; two of them where they are close. Where the plan goes faster
// downhill than anybody pedals the power is taken out of the program. At last the powers
// are ridden by ride.Simulate, and drawn towards CP or away from it, all in proportion,
// until the true balance keeps to its limits and spends what it may; where that costs much
// the program's stock is corrected by what the true ride has less of it, cell by cell, and
// the search goes on from there. The true ride is the answer. Where a search isn't faster
// than the best constant power it starts again from that; a plan that still falls back to
// it says so.
//
// # How good it is
//
// Against optima of a general nonlinear solver on the same problems with the power free
// on every 10 or 20 m (testdata/optima, made by Ipopt 3.11 from the equations above; the table
// by TestAgainstIndependentOptima), both ridden by ride.Simulate:
//
//	course                                                time   gap to the solver's
//	10 km flat, from standstill                        940.1 s   +0.000 %
//	10 km flat, from 10.6 m/s                          933.2 s   +0.000 %
//	10 km flat, maximal power 900 W                    940.3 s   −0.001 %
//	2 km, all of W′ spent                              175.6 s   +0.001 %
//	a descent with bends                               832.7 s   −0.020 %
//	6 km into the wind, 6 km with it                  1177.1 s   +0.001 %
//	hills in a headwind                               2176.2 s   −0.008 %
//	climb, descent, climb                             2627.8 s   +0.001 %
//	5 km at 4 %, 5 km at 6 %, mean of 300 W           1675.7 s   −0.001 %
//	15 km of waves of 300 m to 2 km                   1678.0 s   +0.002 %
//	10 km rolling, maximal power 850 W                1058.3 s   −0.023 %
//	10 km rolling, reserve of 8 kJ                    1054.2 s   +0.002 %
//	rolling, bounds on the power                      1409.8 s   −0.026 %
//	12 km rolling, recovery at half the rate          1438.5 s   −0.003 %
//	12 km rolling, recovery at twice the rate         1145.3 s   −0.022 %
//	rolling, the law of Bartram et al.                1231.1 s   −1.256 %
//	12 km rolling, then 5 km at 7 %                   2435.0 s   +0.003 %
//	14 km rolling, then 6 km at 5 %, indoors          2713.8 s   −0.007 %
//	8 km of gentle waves, then 8 km at 8 %            2871.8 s   +0.001 %
//	10 km of low waves, then 10 km at 7 %             3337.2 s   +0.002 %
//	a last climb, with maximal power                  1841.5 s   +0.001 %
//	7 km rolling, then 7 km at 8 %, half of W′ kept   2695.9 s   −0.005 %
//
// The cells of a plan are shorter than the solver's on short courses, hence gaps below zero;
// by Bartram's law the solver had found no more. With
// a recovery rate above 1, or the law of Bartram et al. 2018, it pays in the model to
// change between very much and nothing from cell to cell; a bound on the change of power
// gives a plan that can be ridden.
package plan
