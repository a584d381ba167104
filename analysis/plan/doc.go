// Package plan finds the power, metre by metre, that rides a course in the least time
// within what a rider can do.
//
// # The problem
//
// The road is cut into cells k = 0…n−1 of about 20 m, on each of which gradient, air and
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
// cell, held over blocks of cells, or change by no more than a given rate.
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
// Of several starting points on a coarser grid the best is followed, since a stock can be
// spent early or late. At last the powers are ridden by ride.Simulate and corrected until
// the true balance keeps to its limits; that ride is the answer.
package plan
