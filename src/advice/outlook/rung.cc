#include "advice/outlook/rung.h"

#include <fmt/format.h>

#include <cmath>

#include "advice/outlook/internal/climb.h"

namespace fuelwright::advice {
namespace {

constexpr double kTo99 = 2.575829;  // half-width of 99 % of a standard normal (arithmetic)

}  // namespace

Result<RungCheck> check_rung(const Outlook& before, std::size_t node, car::Lambda read,
                             double reading_sd) {
  EXPECTS(node < before.nodes.size());
  const NodeOutlook& n = before.nodes[node];
  if (!n.mixture || n.go == Go::driven) {
    return Error{ErrorCode::bad_input, "the step of full throttle",
                 fmt::format("came one that is {}, expected one that was predicted and not driven",
                             name_of(n.go))};
  }
  FW_CHECK(within("the mixture read at a step of full throttle", read.value, 0.4, 4));
  FW_CHECK(within("the standard deviation of that reading", reading_sd, 0.001, 0.2));
  const double middle = std::log(n.mixture->middle.value);
  const double a = std::log(n.mixture->lean.value) - middle - internal::kTo95 * n.sd;
  // Where less fuel is expected to arrive, all of it may arrive as well.
  const double b = std::max(0.0, middle - internal::kTo95 * n.sd - std::log(n.mixture->rich.value));
  const double half = kTo99 * std::hypot(n.sd, reading_sd);
  RungCheck out{.speed = rpm(before.grid.x[node % before.grid.x.size()]),
                .rich = car::lambda(std::exp(middle - half - b)),
                .lean = car::lambda(std::exp(middle + half + a)),  // (ladder.3)
                .read = read};
  if (read > out.lean) out.came = Came::leaner;
  if (read < out.rich) out.came = Came::richer;
  return out;
}

}  // namespace fuelwright::advice
