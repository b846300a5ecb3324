// An outlook in words: the verdict, the lever, the next step of the ladder, what to watch.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "advice/outlook/outlook.h"

namespace fuelwright::advice {
namespace {

// Why, as the end of a sentence.
const char* describe(Because because) {
  switch (because) {
    case Because::measured:
      return "it has been driven";
    case Because::within_limit:
      return "the whole interval is on the safe side of the limit";
    case Because::light_load:
      return "light load, where a wrong mixture does no harm for a moment";
    case Because::may_be_lean:
      return "it may be leaner than the safe limit";
    case Because::too_lean:
      return "the chance of being leaner than the safe limit is too large";
    case Because::may_stumble_lean:
      return "it may be too lean to burn evenly; no harm at light load";
    case Because::may_be_too_rich:
      return "it may be too rich to burn evenly";
    case Because::near_duty:
      return "the injectors are nearly at their end";
    case Because::beyond_duty:
      return "the injectors would be open too long; beyond that no prediction holds";
    case Because::no_pressure:
      return "the regulator leaves no pressure across the injectors";
    case Because::no_model:
      return "a guess at high load, with no engine model behind it";
    case Because::doubtful_family:
      return "the engine fits the parts on the sheet badly";
    case Because::outside_family:
      return "the engine does not fit the parts on the sheet";
    case Because::rung_refuted:
      return "a step of full throttle below came out beyond what was predicted";
    case Because::outside_axes:
      return "the estimate does not reach there";
    case Because::beyond_rev_limit:
      return "it lies beyond the rev limit of the sheet";
    case Because::overrun:
      return "no steady driving gets there";
    case Because::needs_boost:
      return "above ambient pressure, where this engine has never been";
  }
  broken_contract("a reason of the list", __FILE__, __LINE__);
}

std::string percent(double share) { return fmt::format("{:.0f} %", 100 * share); }
std::string half(double ln) { return fmt::format("\xC2\xB1{:.1f} %", 100 * ln); }

class Words {
 public:
  Words(const Outlook& o, const Reader& reader) : o_(o), reader_(reader) {}

  std::string place(std::size_t i) const {
    return fmt::format("{}, {}", o_.grid.x.format_point(i % o_.grid.x.size(), reader_.units),
                       o_.grid.y.format_point(i / o_.grid.x.size(), reader_.units));
  }
  std::string speed(std::size_t ix) const { return o_.grid.x.format_point(ix, reader_.units); }

  // "lambda 0.870 (12.8 AFR on the 14.7 scale), 95 % between 0.830 and 0.921"
  std::string mixture(const NodeOutlook& n) const {
    return fmt::format("{} (95 % between {:.3f} and {:.3f})",
                       car::format(n.mixture->middle, reader_.scale), n.mixture->rich.value,
                       n.mixture->lean.value);
  }

  std::string one(std::size_t i) const {
    const NodeOutlook& n = o_.nodes[i];
    std::string out = fmt::format("{}: {}", place(i), name_of(n.go));
    if (n.go != Go::driven) out += fmt::format(", because {}", describe(n.because));
    if (n.mixture) out += fmt::format("; predicted {}", mixture(n));
    if (n.fuel) {
      out += fmt::format("; injectors {}{} open", o_.assumed_air ? "at most " : "",
                         percent(n.fuel->duty));
    }
    if (n.mixture && n.new_flow) out += "; more fuel than was ever driven: watch fuel pressure";
    return out + ".";
  }

  std::vector<std::string> all() {
    verdict();
    family();
    lever();
    rung();
    closed();
    watch();
    return std::move(out_);
  }

 private:
  void say(std::string line) { out_.push_back(std::move(line)); }

  void verdict() {
    const int driven = o_.count(Go::driven);
    const int left = static_cast<int>(o_.nodes.size()) - driven;
    if (left == 0) return say("Every node of the table has been driven.");
    say(
        fmt::format("Of {} nodes not driven yet {} are fine to try, {} to be approached with care, "
                    "{} not to be tried yet, and of {} nothing is predicted.",
                    left, o_.count(Go::fine), o_.count(Go::with_care), o_.count(Go::not_yet),
                    o_.count(Go::not_predicted)));
  }

  void family() {
    if (!o_.family || o_.family->verdict == physics::Family::inside) return;
    std::string line = o_.family->says() + ".";
    line[0] = 'W';
    say(std::move(line));
  }

  bool believed() const { return !o_.family || o_.family->may_extrapolate(); }

  void lever() {
    const Ladder& l = o_.ladder;
    if (l.light_missing.empty() || !believed()) return;
    std::string list;
    for (std::size_t k = 0; k < l.light_missing.size(); ++k) {
      list += fmt::format("{}{}", k > 0 ? ", " : "", speed(l.light_missing[k]));
    }
    std::string gain;
    if (l.with_light_load < 0.9 * l.undriven_half_width) {
      gain = fmt::format(" It would take the full throttle not driven yet from {} to {}.",
                         half(l.undriven_half_width), half(l.with_light_load));
    }
    say(fmt::format("Light load at every engine speed comes first; it is not known yet at {}.{}",
                    list, gain));
  }

  // Fuel pressure is read in psi or kPa, not in the inches of a vacuum gauge.
  std::string rail() const {
    const std::string step = reader_.units == UnitSystem::us
                                 ? fmt::format("{:.1f} psi", o_.rail.in(psi))
                                 : fmt::format("{:.0f} kPa", o_.rail.in(kPa));
    return fmt::format("{} above {}", step,
                       o_.rail_above == car::RegulatorReference::manifold
                           ? "the manifold's pressure"
                           : "the atmosphere");
  }

  void refuted() {
    const RungCheck& c = *o_.refuted;
    const bool lean = c.came == Came::leaner;
    say(
        fmt::format("Stop climbing: full throttle at {:.0f} rpm read {}, {} than the {:.3f} to "
                    "{:.3f} that was predicted. {} Find the cause before any step from there on.",
                    c.speed.rpm, car::format(c.read, reader_.scale), lean ? "leaner" : "richer",
                    c.rich.value, c.lean.value,
                    lean ? "Fuel pressure and delivery come first, then the sensor."
                         : "Look for what holds back air or exhaust at full flow, then at fuel "
                           "pressure and the sensor."));
  }

  void rung() {
    const Ladder& l = o_.ladder;
    if (o_.refuted) return refuted();
    if (l.rungs.empty()) return say("The table does not reach full throttle.");
    if (!l.next) {
      const bool climbed = std::all_of(l.rungs.begin(), l.rungs.end(),
                                       [](const Rung& r) { return r.step == Step::driven; });
      return say(climbed ? "Full throttle was driven at every speed step."
                         : "No step of full throttle can be predicted from here: do not try the "
                           "next one on our word.");
    }
    const Rung& r = l.rungs[*l.next];
    const NodeOutlook& n = o_.nodes[r.node];
    if (!r.may_try) {
      return say(fmt::format(
          "Do not try full throttle at {} yet, because {}.", speed(r.ix),
          r.light_load_known ? describe(n.because) : "light load at that speed is not known yet"));
    }
    say(fmt::format(
        "The next step at full throttle is {}: {}. From light load and the steps below {} is "
        "predicted. Lift at once if the mixture reads leaner than {}, if fuel pressure falls, or "
        "at "
        "any knock. Use a closed road or a dynamometer, and let somebody else read the screen.",
        speed(r.ix), name_of(n.go), mixture(n), car::format(*r.lift_at, reader_.scale)));
    const std::size_t above = *l.next + 1;
    if (above == l.rungs.size()) return;
    const Rung& a = l.rungs[above];
    if (a.step == Step::later && a.half_width_then < 0.95 * a.half_width) {
      say(
          fmt::format("The step after it, {}, is known to {} now and will be to {} once this one "
                      "is driven.",
                      speed(a.ix), half(a.half_width), half(a.half_width_then)));
    }
  }

  // How many nodes are closed, by reason.
  void closed() {
    constexpr std::array kReasons{Because::too_lean,         Because::beyond_duty,
                                  Because::outside_family,   Because::rung_refuted,
                                  Because::beyond_rev_limit, Because::needs_boost,
                                  Because::no_pressure,      Because::outside_axes};
    for (const Because why : kReasons) {
      const auto n = std::count_if(o_.nodes.begin(), o_.nodes.end(), [&](const NodeOutlook& node) {
        return node.because == why && node.go != Go::driven;
      });
      if (n == 0) continue;
      const auto first = std::find_if(o_.nodes.begin(), o_.nodes.end(),
                                      [&](const NodeOutlook& node) { return node.because == why; });
      const auto at = static_cast<std::size_t>(first - o_.nodes.begin());
      say(fmt::format("Leave out {} (the first at {}): {}.",
                      n == 1 ? "1 node" : fmt::format("{} nodes", n), place(at), describe(why)));
    }
  }

  // What the computed supply says of the flows that were not driven yet.
  std::string supply() const {
    const auto n = std::count_if(o_.nodes.begin(), o_.nodes.end(), [](const NodeOutlook& node) {
      constexpr double kWorthSaying = 0.05;
      return node.go != Go::driven && node.missing_chance > kWorthSaying;
    });
    if (n == 0) return " By the parts of the fuel system all the fuel arrives (fuelwright size).";
    return fmt::format(
        " By the parts of the fuel system fuel may be missing at {} node{} (fuelwright "
        "size says what runs out); it is in their intervals.",
        n, n == 1 ? "" : "s");
  }

  void watch() {
    if (o_.count(Go::fine) + o_.count(Go::with_care) == 0) return;
    std::string line = fmt::format("Watch fuel pressure: the regulator should hold {}.", rail());
    if (o_.supply_computed) {
      line += supply();
    } else if (o_.options.delivery_lean > 0) {
      line += fmt::format(
          " Beyond the largest flow that was driven{} the lean end of every interval holds {:.3g} "
          "% of missing fuel, and nothing is predicted above {} duty.",
          o_.proven_flow
              ? fmt::format(" ({})", format(o_.proven_flow->si, Kind::mass_flow, reader_.units, 3))
              : std::string(),
          100 * o_.options.delivery_lean, percent(o_.options.most_duty));
    }
    if (o_.assumed_air) {
      line += " How much air the engine takes is not known; 110 % was assumed for the injectors.";
    }
    say(std::move(line));
  }

  const Outlook& o_;
  const Reader& reader_;
  std::vector<std::string> out_;
};

}  // namespace

std::string says(const Outlook& outlook, std::size_t node, const Reader& reader) {
  EXPECTS(node < outlook.nodes.size());
  return Words(outlook, reader).one(node);
}

std::vector<std::string> words(const Outlook& outlook, const Reader& reader) {
  return Words(outlook, reader).all();
}

}  // namespace fuelwright::advice
