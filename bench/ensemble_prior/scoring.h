// How well full throttle follows from what was driven, and whether an engine that is not the
// sheet's is noticed.
#pragma once

#include <string>
#include <vector>

#include "bench/ensemble_prior/engines.h"
#include "physics/ensemble/condition.h"

namespace fuelwright::physics {

// What the readings of a map estimate are wrong by: 1 % a cell, half of that variance shared by
// neighbours; `common`: sd of one more error, the same in all cells of an engine; whether truth has
// a draw of the smooth error that the ensemble allows for.
struct Errors {
  double common = 0;
  bool model = true;
};

// Counts are of looks (several an engine). An engine is harmed if its predicted cells are wrong,
// r.m.s., by more than 1.96 times the sd claimed.
struct Score {
  int looks = 0, noticed = 0, outside = 0, harmed = 0, harmed_noticed = 0;
  int cells = 0, within = 0;
  double error2 = 0, claimed2 = 0;
  // The most that any test with 5 % false alarms could notice, knowing in each engine what it looks
  // for: Phi(d - 1.645), d^2 = shift' S^-1 shift, summed; and d itself.
  double at_most = 0, distance = 0;
  int stopped = 0, stopped99 = 0;  // ladder: by a rung beyond its interval of 95 and of 99 %
  int noticed_or_stopped = 0;
  void add(const Score& other);
};

// Driven below a pressure at every speed; full throttle from 4000 rpm is predicted.
Score at_part_load(const Ensemble& e, const Group& group, double below_kpa, const Errors& errors,
                   const Run& run);
// Then full throttle speed step by speed step, each predicted from those below; the climb starts
// with the part-load test and stops at a rung that is refuted. Errors are counted to the top.
Score up_the_ladder(const Ensemble& e, const Group& group, double below_kpa, const Errors& errors,
                    const Run& run);

}  // namespace fuelwright::physics
