/// Likelihood in place of bare thresholds: a size or a count, healthy against faulty.
///
///   Evidence e = weigh_level(size, sd_healthy, sd_faulty, prior);
///   if (sure(e)) ...
///
/// Sizes:  healthy N(0, s^2), faulty N(0, s^2 + f^2)                            (sensor_checks.1)
/// Counts: healthy Poisson(h), faulty Poisson(h + f)                            (sensor_checks.2)
/// Chance of the fault: prior odds times the ratio. docs/theory/sensor_checks.md.
#pragma once

#include "advice/sensor_checks/finding.h"

namespace fuelwright::advice {

/// One in twenty recordings of a modified car has a given fault (a guess; no source).
inline constexpr double kPrior = 0.05;
/// A finding is made at this chance and at most this chance of a false alarm.
inline constexpr double kSureChance = 0.75;
inline constexpr double kSureFalseAlarm = 1e-3;

/// sd_healthy > 0, sd_faulty > 0. `looks`: independent places looked at, of which this is the
/// worst (Bonferroni).
Evidence weigh_level(double size, double sd_healthy, double sd_faulty, double looks = 1,
                     double prior = kPrior);
/// Counts expected of a healthy and of a faulty recording, healthy > 0.
Evidence weigh_count(long count, double healthy, double faulty, double prior = kPrior);
/// What was counted or read off without noise.
Evidence certain(double size);

bool sure(const Evidence& e);

/// Chance that a normal variate lies further out than z on either side.
double outside_normal(double z);
/// Chance of `count` or more from a Poisson variate of that mean.
double poisson_tail(long count, double mean);

}  // namespace fuelwright::advice
