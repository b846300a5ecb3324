#include "advice/map_estimate/prior.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kIndependent_sd = 0.001;  // keeps K well conditioned; far below any figure shown

double ln_speed(double rpm) { return std::log(std::max(rpm, 100.0)); }

// Matern 5/2 of a scaled distance: twice differentiable, so surfaces are smooth but may bend.
double matern52(double d) {
  const double a = std::sqrt(5.0) * d;
  return (1.0 + a + a * a / 3.0) * std::exp(-a);
}

// Shapes that whole engines share. Loads are measured from 60 kPa, speeds from 2000 rpm, so that
// the level is the level where engines are driven.
constexpr double kMiddleLoad = 0.6;
const double kMiddle_ln_speed = std::log(2000.0);
// Residual gas left in the clearance volume takes room: the ideal cycle loses ((p_e / p) - 1) /
// (gamma (r_c - 1)) of the charge (Heywood 1988, section 5.4, from memory), with p_e one
// atmosphere, gamma 1.4 and r_c 10 as typical values; the shape's own standard deviation covers
// other engines.
double droop(double /*ln_speed*/, double load) {
  constexpr double kGamma = 1.4;
  constexpr double kCompression = 10.0;
  const double p = std::max(load, 0.15);
  return -(1.0 / p - 1.0 / kMiddleLoad) / (kGamma * (kCompression - 1.0));
}

// Exhaust drawn back through the valve overlap displaces charge, most at low speed and low
// pressure: the overlap term of the residual correlation of Fox, Cheng and Heywood, SAE 931025
// (from memory), for an overlap factor of 1 deg/m; usual engines have 0.5 to 4.
double overlap_residual(double ln_n, double load) {
  const double x = std::clamp(load, 0.2, 1.0);
  const double revolutions_per_s = std::exp(ln_n) / 60.0;
  const double share = 1.266 / revolutions_per_s * std::pow(x, -0.87) * std::sqrt(1.0 - x);
  return std::log1p(-std::min(share, 0.6));
}

ShapePart level(double sd) {
  return {"level", 0, sd, [](double, double) { return 1.0; }};
}

}  // namespace

double load_coordinate(car::AxisKind kind, double si) {
  switch (kind) {
    case car::AxisKind::map_absolute:
      return si / 100e3;
    case car::AxisKind::vacuum:
      return 1.0 - si / 100e3;
    case car::AxisKind::throttle:
      return si;
    default:
      break;
  }
  broken_contract("a load axis", __FILE__, __LINE__);
}

// Wide enough for engines that phase their cams, whose VE moves by half between cruise and full
// load. The half-widths and lengths were chosen on drives 6 to 8 of one small car
// (docs/theory/map_estimate.md names them); no other data has formed them.
Prior unknown_engine_prior() {
  const auto speed = [](double ln_n) { return ln_n - kMiddle_ln_speed; };
  const auto load = [](double p) { return p - kMiddleLoad; };
  return {"an engine of which only the displacement is known",
          {{0.20, 0.5, 0.4}, {0.15, 0.2, 0.1}, {0.05, 0.12, 0.05}},
          {level(0.4),
           {"slope in speed", 0, 0.05, [=](double n, double) { return speed(n); }},
           {"bend in speed", 0, 0.1, [=](double n, double) { return speed(n) * speed(n) - 0.2; }},
           {"slope in load", 0, 0.5, [=](double, double p) { return load(p); }},
           {"bend in load", 0, 1.0, [=](double, double p) { return load(p) * load(p) - 0.05; }},
           {"slope in load changes with speed", 0, 0.3,
            [=](double n, double p) { return speed(n) * load(p); }},
           {"residual gas at low pressure", 0, 0.5, droop},
           {"residual gas through the overlap", 2.0, 1.0, overlap_residual}}};
}

// methods of the trade leave tables wrong by 5 to 20 % (a level and a smooth shape) before they are
// driven.
Prior table_as_found_prior() {
  return {"a table made for this engine or one like it",
          {{0.08, 0.7, 0.45}, {0.015, 0.15, 0.1}},
          {level(0.06)}};
}

namespace {

// Where the nodes stand, as the prior measures it.
struct Places {
  Eigen::VectorXd speed;
  Eigen::VectorXd load;
  explicit Places(const car::Grid& grid)
      : speed(static_cast<Eigen::Index>(grid.size())), load(speed.size()) {
    for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
      for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
        const auto i = static_cast<Eigen::Index>(grid.index(ix, iy));
        speed[i] = ln_speed(grid.x[ix]);
        load[i] = load_coordinate(grid.y.kind(), grid.y[iy]);
      }
    }
  }
  Eigen::VectorXd shape(const ShapePart& part) const {
    Eigen::VectorXd f(speed.size());
    for (Eigen::Index i = 0; i < f.size(); ++i) f[i] = part.shape(speed[i], load[i]);
    return f;
  }
};

}  // namespace

Eigen::VectorXd mean(const Prior& prior, const car::Grid& grid) {
  const Places places(grid);
  Eigen::VectorXd mu = Eigen::VectorXd::Zero(places.speed.size());
  for (const ShapePart& part : prior.shapes) {
    if (part.mean != 0) mu += part.mean * places.shape(part);
  }
  return mu;
}

Eigen::MatrixXd covariance(const Prior& prior, const car::Grid& grid) {
  const Places places(grid);
  const Eigen::VectorXd& speed = places.speed;
  const Eigen::VectorXd& load = places.load;
  const Eigen::Index n = speed.size();
  Eigen::MatrixXd K = Eigen::MatrixXd::Zero(n, n);
  for (const ShapePart& part : prior.shapes) {
    const Eigen::VectorXd f = part.sd * places.shape(part);
    K.noalias() += f * f.transpose();  // (estimate.1)
  }
  for (const SmoothPart& part : prior.smooth) {
    const double variance = part.sd * part.sd;
    for (Eigen::Index j = 0; j < n; ++j) {
      for (Eigen::Index i = 0; i < n; ++i) {
        const double ds = (speed[i] - speed[j]) / part.length_ln_speed;
        const double dl = (load[i] - load[j]) / part.length_load;
        K(i, j) += variance * matern52(std::hypot(ds, dl));  // (estimate.1)
      }
    }
  }
  if (prior.given) K += prior.given(grid);
  K.diagonal().array() += kIndependent_sd * kIndependent_sd;
  return K;
}

}  // namespace fuelwright::advice
