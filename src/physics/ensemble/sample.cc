#include "physics/ensemble/sample.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <random>
#include <vector>

#include "base/contract.h"

namespace fuelwright::physics {
namespace {

// 53 bits of the generator, in (0, 1). The standard's distributions differ between libraries.
double uniform(std::mt19937_64& random) {
  return (static_cast<double>(random() >> 11U) + 0.5) * 0x1p-53;
}

using Order = std::vector<int>;

void shuffle(Order* order, std::mt19937_64& random) {
  for (std::size_t i = order->size(); i > 1; --i) {
    const auto j = static_cast<std::size_t>(uniform(random) * static_cast<double>(i));
    std::swap((*order)[i - 1], (*order)[std::min(j, i - 1)]);
  }
}

// The orders of the values of a column.
Order ranks_of(const Eigen::VectorXd& column) {
  Order by_value(static_cast<std::size_t>(column.size()));
  std::iota(by_value.begin(), by_value.end(), 0);
  std::stable_sort(by_value.begin(), by_value.end(),
                   [&](int a, int b) { return column[a] < column[b]; });
  Order rank(by_value.size());
  for (std::size_t i = 0; i < by_value.size(); ++i)
    rank[static_cast<std::size_t>(by_value[i])] = static_cast<int>(i);
  return rank;
}

// Ranks as normal scores in the middle of their strata.
Eigen::VectorXd scores(const Order& rank) {
  Eigen::VectorXd out(static_cast<Eigen::Index>(rank.size()));
  for (Eigen::Index i = 0; i < out.size(); ++i)
    out[i] = inverse_normal((rank[static_cast<std::size_t>(i)] + 0.5) /
                            static_cast<double>(rank.size()));
  return out;
}

// Ranked Gram-Schmidt: each column in turn loses what the columns before (then behind) it explain,
// and what remains is ranked again.
void untie(std::vector<Order>* columns) {
  constexpr int kPasses = 3;
  const int n = static_cast<int>(columns->size());
  if (n < 2) return;
  const auto count = static_cast<Eigen::Index>(columns->front().size());
  Eigen::MatrixXd z(count, n);
  for (int j = 0; j < n; ++j) z.col(j) = scores((*columns)[static_cast<std::size_t>(j)]);
  const auto step = [&](int j, int from, int to) {
    if (from == to) return;
    const auto others = z.middleCols(from, to - from);
    const Eigen::VectorXd explained =
        others * (others.transpose() * z.col(j)) / z.col(j).squaredNorm();
    (*columns)[static_cast<std::size_t>(j)] = ranks_of(z.col(j) - explained);
    z.col(j) = scores((*columns)[static_cast<std::size_t>(j)]);
  };
  for (int pass = 0; pass < kPasses; ++pass) {
    for (int j = 1; j < n; ++j) step(j, 0, j);
    for (int j = n - 2; j >= 0; --j) step(j, j + 1, n);
  }
}

template <class Map>
void fill(Eigen::MatrixXd* matrix, Map&& map) {
  for (Eigen::Index j = 0; j < matrix->cols(); ++j)
    for (Eigen::Index i = 0; i < matrix->rows(); ++i) (*matrix)(i, j) = map(i, j);
}

}  // namespace

double inverse_normal(double p) {
  EXPECTS(p > 0 && p < 1);
  if (p > 0.5) return -inverse_normal(1 - p);
  constexpr double a[] = {-3.969683028665376e+01, 2.209460984245205e+02,  -2.759285104469687e+02,
                          1.383577518672690e+02,  -3.066479806614716e+01, 2.506628277459239e+00};
  constexpr double b[] = {-5.447609879822406e+01, 1.615858368580409e+02, -1.556989798598866e+02,
                          6.680131188771972e+01, -1.328068155288572e+01};
  constexpr double c[] = {-7.784894002430293e-03, -3.223964580411365e-01, -2.400758277161838e+00,
                          -2.549732539343734e+00, 4.374664141464968e+00,  2.938163982698783e+00};
  constexpr double d[] = {7.784695709041462e-03, 3.224671290700398e-01, 2.445134137142996e+00,
                          3.754408661907416e+00};
  double x = 0;
  if (p < 0.02425) {
    const double q = std::sqrt(-2 * std::log(p));
    x = (((((c[0] * q + c[1]) * q + c[2]) * q + c[3]) * q + c[4]) * q + c[5]) /
        ((((d[0] * q + d[1]) * q + d[2]) * q + d[3]) * q + 1);
  } else {
    const double q = p - 0.5;
    const double r = q * q;
    x = (((((a[0] * r + a[1]) * r + a[2]) * r + a[3]) * r + a[4]) * r + a[5]) * q /
        (((((b[0] * r + b[1]) * r + b[2]) * r + b[3]) * r + b[4]) * r + 1);
  }
  const double e = 0.5 * std::erfc(-x / std::numbers::sqrt2) - p;  // (ensemble.2)
  const double u = e * std::sqrt(2 * std::numbers::pi) * std::exp(x * x / 2);
  return x - u / (1 + x * u / 2);
}

Eigen::MatrixXd uniform_sample(int count, int columns, std::uint64_t seed) {
  EXPECTS(count >= 1 && columns >= 0);
  std::mt19937_64 random(seed);
  std::vector<Order> orders(static_cast<std::size_t>(columns),
                            Order(static_cast<std::size_t>(count)));
  for (Order& order : orders) {
    std::iota(order.begin(), order.end(), 0);
    shuffle(&order, random);
  }
  if (columns < count) untie(&orders);
  Eigen::MatrixXd out(count, columns);
  fill(&out, [&](Eigen::Index i, Eigen::Index j) {
    const int stratum = orders[static_cast<std::size_t>(j)][static_cast<std::size_t>(i)];
    return (stratum + uniform(random)) / count;
  });
  return out;
}

Eigen::MatrixXd normal_sample(int count, int columns, std::uint64_t seed) {
  return uniform_sample(count, columns, seed).unaryExpr([](double p) { return inverse_normal(p); });
}

Eigen::MatrixXd normal_draws(int count, int columns, std::uint64_t seed) {
  EXPECTS(count >= 0 && columns >= 0);
  std::mt19937_64 random(seed);
  Eigen::MatrixXd out(count, columns);
  fill(&out, [&](Eigen::Index, Eigen::Index) { return inverse_normal(uniform(random)); });
  return out;
}

}  // namespace fuelwright::physics
