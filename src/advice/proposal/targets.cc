#include "advice/proposal/targets.h"

#include <fmt/format.h>

#include <algorithm>

#include "advice/proposal/safe_limit.h"

namespace fuelwright::advice {
namespace {

// Where the wish for full throttle begins and where it is all there is, share of ambient pressure
// (common practice, no source).
constexpr double kFullBegins = 0.75;
constexpr double kFullIsAll = 0.88;

double full_share(double load) {
  const double t = std::clamp((load - kFullBegins) / (kFullIsAll - kFullBegins), 0.0, 1.0);
  return t * t * (3 - 2 * t);  // (proposal.2)
}

}  // namespace

Result<car::Surface> read_off(const car::Surface& surface, const car::Grid& grid,
                              const char* what) {
  const car::Grid& has = surface.grid;
  if (has.x.kind() != grid.x.kind() || has.y.kind() != grid.y.kind()) {
    return Error{ErrorCode::bad_input, what,
                 fmt::format("stands over {} and {}, expected {} and {} as the table has",
                             car::label_of(has.x.kind()), car::label_of(has.y.kind()),
                             car::label_of(grid.x.kind()), car::label_of(grid.y.kind()))};
  }
  car::Surface out = car::Surface::flat(grid, 0);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out.node(ix, iy) = surface.at(grid.x[ix], grid.y[iy]);
    }
  }
  return out;
}

Result<car::Surface> target_mixture(const car::Calibration& calibration, const car::Sheet& sheet,
                                    const car::Grid& grid) {
  if (const car::Surface* held = calibration.find(car::TableWhat::lambda_target)) {
    return read_off(*held, grid, "lambda_target");
  }
  const double cruise = sheet.wishes.cruise_mixture.si();
  const double full = sheet.wishes.full_throttle_mixture.si();
  car::Surface out = car::Surface::flat(grid, cruise);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    const double s = full_share(load_share(grid.y.kind(), grid.y[iy], sheet.place.pressure.value));
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out.node(ix, iy) = cruise * (1 - s) + full * s;  // (proposal.2)
    }
  }
  return out;
}

}  // namespace fuelwright::advice
