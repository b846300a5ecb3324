#include "advice/dynamic_estimate/internal/charge_law.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::advice {
namespace {

constexpr int kPasses = 8;
constexpr double kBisquare = 4.685;        // the usual tuning: 95 % efficient for normal errors
constexpr double kMadToSd = 1.4826;        // exact, normal errors
constexpr double kSmallestSpread = 0.002;  // rounding of pulse width and table
// What the coefficients may be before the fit, one standard deviation: levels and laws wide, the
// dead time's law 0.1 ms a volt.
const Eigen::Vector4d kWidth(0.5, 0.3, 0.3, 1e-4);

double median(std::vector<double> v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// What a wrong table leaves stays while the engine stays where it is; what a pulsating manifold
// pressure leaves averages out.
double slow_spread(const ChargeLaw& law, const std::vector<LawRow>& rows) {
  std::vector<double> means;
  for (std::size_t i = 0; i < rows.size();) {
    const std::size_t first = i;
    double sum = 0;
    for (; i < rows.size() && rows[i].window == rows[first].window; ++i) {
      sum += rows[i].ln_ratio - law.c.dot(rows[i].column);
    }
    means.push_back(std::abs(sum) / static_cast<double>(i - first));
  }
  return std::max(kMadToSd * median(std::move(means)), kSmallestSpread);
}

}  // namespace

ChargeLaw fit_charge_law(const std::vector<LawRow>& rows) {
  EXPECTS(!rows.empty());
  ChargeLaw law;
  std::vector<double> left(rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) left[i] = rows[i].ln_ratio;
  law.c[0] = median(left);
  for (int pass = 0; pass < kPasses; ++pass) {
    for (std::size_t i = 0; i < rows.size(); ++i) {
      left[i] = std::abs(rows[i].ln_ratio - law.c.dot(rows[i].column));
    }
    law.spread = std::max(kMadToSd * median(left), kSmallestSpread);
    Eigen::Matrix4d H = Eigen::Matrix4d::Zero();
    Eigen::Vector4d h = Eigen::Vector4d::Zero();
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const double t = left[i] / (kBisquare * law.spread);
      if (t >= 1) continue;
      const double w = (1 - t * t) * (1 - t * t);
      H.noalias() += w * rows[i].column * rows[i].column.transpose();
      h += w * rows[i].ln_ratio * rows[i].column;
    }
    H /= law.spread * law.spread;
    h /= law.spread * law.spread;
    H.diagonal() += kWidth.cwiseAbs2().cwiseInverse();
    law.c = H.ldlt().solve(h);
  }
  law.slow_spread = slow_spread(law, rows);
  return law;
}

}  // namespace fuelwright::advice
