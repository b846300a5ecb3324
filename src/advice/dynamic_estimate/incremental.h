/// The dynamic estimate that runs along with a drive: takes the rows a second at a time and always
/// has the posterior of all of them, with its uncertainty.
///
///   At a held point the information of rows adds up, so the posterior of the rows before is the
///   prior of the next ones:  C <- (C^-1 + H)^-1,  x <- x + C (h - H (x - mu))      (dynamic.8)
///   Drift: a knot that no further row needs is integrated out, the next one joins by
///   b' = rho b + e,  rho = e^(-60 s/120 s),  var e = sd^2 (1 - rho^2)              (dynamic.9)
///
/// Both are exact: at the same point the answer is that of estimate_dynamic_at() over the whole
/// drive, however it was cut (incremental_test.cc: 1e-6). Held between two relinearise(): theta,
/// dd, w, table, noise scale, VIF, and the unit's charge law in the rows themselves
/// (live_driving.h). Adding rows at a held point never makes a state less sure. One row waits for
/// its next one.
///
///   RunningEstimate ride(start, car::TableWhat::ve, options);      // or from an earlier estimate
///   ride.add(second);  DynamicEstimate e = ride.now();  if (ride.stale()) ride.relinearise();
///
/// Cost, 16x16 nodes, one core (incremental_bench.cc): 2 to 5 ms a second of driving, 20 or 50 Hz,
/// all told; relinearise() runs all rows again, 26 ms after ten minutes at 20 Hz, 84 ms after an
/// hour, 240 ms after an hour at 50 Hz. Memory: about 350 bytes a row.
#pragma once

#include <memory>

#include "advice/dynamic_estimate/dynamic_estimate.h"

namespace fuelwright::advice {

class RunningEstimate {
 public:
  /// From nothing but the priors. Tables must be positive.
  RunningEstimate(const car::Surface& start, car::TableWhat what, const DynamicOptions& options);
  /// On top of earlier driving, linearised at a point: `known` and `point` of an earlier estimate
  /// with the same grid and options. Its drift is not this ride's.
  RunningEstimate(const car::Surface& start, car::TableWhat what, const DynamicOptions& options,
                  const Known& known, const HeldPoint& point);
  ~RunningEstimate();
  RunningEstimate(RunningEstimate&&) noexcept;
  RunningEstimate& operator=(RunningEstimate&&) noexcept;

  /// The rows that follow: of the same clock, fuel and sensor as those before (a broken contract
  /// otherwise), settled for good (LiveDriving gives such). Any number, none included.
  void add(const Driving& piece);
  /// All rows anew, as another charge law makes them; the point stays.
  void replace(Driving whole);
  /// What all rows say at the held point.
  DynamicEstimate now() const;
  /// The present answer becomes the point, as one pass of Gauss and Newton: all rows are run again,
  /// weights, noise scale and VIF found anew.
  void relinearise();
  /// The point is old: rows have grown by a quarter since, or by ten seconds at the start. The cost
  /// of following this advice, spread over the drive, is about five passes a row.
  bool stale() const;

  /// The point that is held.
  const HeldPoint& point() const;
  /// The rows so far.
  const Driving& driving() const;

 private:
  class Work;
  std::unique_ptr<Work> work_;
};

}  // namespace fuelwright::advice
