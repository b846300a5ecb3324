/// Robust statistics of short series; NaN left out.
#pragma once

#include <vector>

namespace fuelwright::advice {

/// NaN when there is nothing.
double median(std::vector<double> v);
/// share 0..1.
double quantile(std::vector<double> v, double share);
/// 1.4826 times the median distance from the median: the standard deviation of a normal series.
double robust_sd(std::vector<double> v);
double mean(const std::vector<double>& v);

}  // namespace fuelwright::advice
