// A proposal in words: what was changed and why, what was held back and what would release it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "advice/proposal/internal/worth.h"
#include "advice/proposal/proposal.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::advice {
namespace {

using internal::kWorthSaying_ln;

constexpr double kTo95 = 1.959964;
constexpr std::size_t kExamples = 3;

std::string nodes(int n) { return n == 1 ? "1 node" : fmt::format("{} nodes", n); }
std::string percent(double ln) { return fmt::format("{:+.1f} %", 100 * std::expm1(ln)); }

class Words {
 public:
  Words(const ProposedTable& p, const Reader& reader) : p_(p), reader_(reader) {}

  std::vector<std::string> all() {
    changes();
    margin();
    lean_targets();
    unsafe();
    waiting();
    thin();
    cut();
    unit_range();
    not_believed();
    form();
    what_to_do();
    return std::move(out_);
  }

 private:
  using Node = std::size_t;
  using Size = std::function<double(Node)>;
  using Say = std::function<std::string(Node)>;

  const NodeChange& node(Node i) const { return p_.nodes[i]; }

  // "3200 rpm, 95.0 kPa"
  std::string place(Node i) const {
    const car::Grid& g = p_.surface.grid;
    return fmt::format("{}, {}", g.x.format_point(i % g.x.size(), reader_.units),
                       g.y.format_point(i / g.x.size(), reader_.units));
  }
  std::string mixture(car::Lambda l) const { return car::format(l, reader_.scale); }

  // Nodes whose size is above 0, the largest first.
  std::vector<Node> largest(const Size& size) const {
    std::vector<Node> out;
    for (Node i = 0; i < p_.nodes.size(); ++i) {
      if (size(i) > 0) out.push_back(i);
    }
    std::stable_sort(out.begin(), out.end(), [&](Node a, Node b) { return size(a) > size(b); });
    return out;
  }
  // "-6.2 % at 3200 rpm, 60.0 kPa; -5.8 % at ..."
  std::string examples(const std::vector<Node>& list, const Say& say) const {
    std::string out;
    for (std::size_t k = 0; k < std::min(list.size(), kExamples); ++k) {
      out += fmt::format("{}{} at {}", k > 0 ? "; " : "", say(list[k]), place(list[k]));
    }
    return out;
  }
  static int size_of(const std::vector<Node>& list) { return static_cast<int>(list.size()); }

  std::vector<Node> held(Held how, double sign) const {
    return largest([&](Node i) {
      const NodeChange& c = node(i);
      const double cut = std::abs(c.made - c.wanted);
      return c.held == how && c.wanted * sign > 0 && cut > kWorthSaying_ln ? cut : 0.0;
    });
  }

  void say(std::string line) { out_.push_back(std::move(line)); }

  void changes() {
    if (p_.first) return say("This is the first table: what the recordings and the parts say.");
    const auto moved = [&](Why why, double sign) {
      return largest([&, why, sign](Node i) {
        const NodeChange& c = node(i);
        return c.why == why && sign * c.made > kWorthSaying_ln ? std::abs(c.made) : 0.0;
      });
    };
    const auto richer = moved(Why::richer, 1);
    const auto leaner = moved(Why::leaner, -1);
    const auto made = [&](Node i) { return percent(node(i).made); };
    if (richer.empty() && leaner.empty() && p_.richer + p_.leaner == 0) {
      return say("Nothing is to change by more than 1 % yet.");
    }
    if (!richer.empty()) {
      say(fmt::format("{} richer, because the mixture seen was leaner than meant: {}.",
                      nodes(size_of(richer)), examples(richer, made)));
    }
    if (!leaner.empty()) {
      say(fmt::format("{} leaner, as far as that is proven ({:.3g} in 100): {}.",
                      nodes(size_of(leaner)), 100 * p_.options.lean_proof, examples(leaner, made)));
    }
  }

  void margin() {
    const auto kept = largest([&](Node i) {
      return node(i).margin > 0 && node(i).made - node(i).wanted > 1e-9
                 ? node(i).made - node(i).wanted
                 : 0.0;
    });
    if (kept.empty()) return;
    const auto over = [&](Node i) { return percent(node(i).made - node(i).wanted); };
    const SafeLimit& safe = p_.options.safe;
    say(fmt::format(
        "At high load {} stand richer than the best estimate, so that the chance of being leaner "
        "than the safe limit stays under {:.3g} %: {}. The limit is lambda 1 at {:.0f} % of full "
        "load and {} at full load. Driving there makes it surer and takes the margin back.",
        nodes(size_of(kept)), 100 * p_.options.lean_chance, examples(kept, over),
        100 * safe.high_load, mixture(safe.leanest)));
  }

  void lean_targets() {
    if (p_.lean_targets == 0) return;
    say(fmt::format(
        "The mixture aimed at is itself leaner than the safe limit at {}; the table makes up for "
        "it, but the better cure is a richer target there.",
        nodes(p_.lean_targets)));
  }

  void unsafe() {
    if (p_.unsafe == 0) return;
    const auto worst = largest([&](Node i) {
      const auto& c = node(i).lean_chance;
      return c && *c > p_.options.lean_chance ? *c : 0.0;
    });
    const auto chance = [&](Node i) { return fmt::format("{:.0f} %", 100 * *node(i).lean_chance); };
    say(fmt::format(
        "Do not drive full load with this table yet: at {} the chance of being leaner than the "
        "safe limit is still above {:.3g} %, because the step was bounded: {}.",
        nodes(p_.unsafe), 100 * p_.options.lean_chance, examples(worst, chance)));
  }

  void waiting() {
    const auto unproven = held(Held::not_proven, -1);
    const double z = physics::inverse_normal(p_.options.lean_proof);
    const auto asks = [&](Node i) {
      const NodeChange& c = node(i);
      const double begins = kTo95 * -c.wanted / z;
      const double now = kTo95 * c.sd;
      const std::string have =
          fmt::format("{} wanted, {} made", percent(c.wanted), percent(c.made));
      return begins < now ? fmt::format(
                                "{}, moves once known to \xC2\xB1{:.1f} % (now "
                                "\xC2\xB1{:.1f} %)",
                                have, 100 * begins, 100 * now)
                          : fmt::format("{}, known to \xC2\xB1{:.1f} %", have, 100 * now);
    };
    if (!unproven.empty()) {
      say(
          fmt::format("{} would go leaner and wait for proof; steady driving there releases them: "
                      "{}.",
                      nodes(size_of(unproven)), examples(unproven, asks)));
    }
    const auto undriven = held(Held::not_driven, -1);
    if (undriven.empty()) return;
    const auto wanted = [&](Node i) { return percent(node(i).wanted); };
    say(
        fmt::format("{} at high load would go leaner and do not, because the car was not driven "
                    "there; only driving there releases them: {}.",
                    nodes(size_of(undriven)), examples(undriven, wanted)));
  }

  void thin() {
    const auto list = held(Held::thin, 1);
    if (list.empty()) return;
    const auto of = [&](Node i) {
      return fmt::format("{} of {}", percent(node(i).made), percent(node(i).wanted));
    };
    say(fmt::format("{} move by less than was inferred, because little was driven near them: {}.",
                    nodes(size_of(list)), examples(list, of)));
  }

  void cut() {
    if (p_.cut == 0) return;
    const auto list = largest([&](Node i) {
      return node(i).held == Held::most_change ? std::abs(node(i).wanted) + node(i).margin : 0.0;
    });
    const auto wanted = [&](Node i) {
      return fmt::format("{}", percent(node(i).wanted + node(i).margin));
    };
    say(
        fmt::format("{} want more than the {:.0f} % that one revision may move: {}. Look for the "
                    "cause first: fuel pressure, injectors, sensors, a leak.",
                    nodes(size_of(list)), 100 * p_.options.most_change, examples(list, wanted)));
  }

  void unit_range() {
    const auto list = largest([&](Node i) { return node(i).held == Held::unit_range ? 1.0 : 0.0; });
    if (list.empty()) return;
    const auto value = [&](Node i) { return fmt::format("{:.4g} %", 100 * p_.surface.values[i]); };
    say(fmt::format("{} stand at the end of what a cell of the unit can hold: {}.",
                    nodes(size_of(list)), examples(list, value)));
  }

  void not_believed() {
    const auto list =
        largest([&](Node i) { return node(i).held == Held::not_believed ? 1.0 : 0.0; });
    if (!list.empty() || !p_.options.may_extrapolate) {
      say(fmt::format(
          "{} that are guesses keep the value in force: what was driven does not fit the "
          "engine on the sheet, or does not reach them, and nothing is concluded about them. Do "
          "not try full throttle on that ground.",
          nodes(size_of(list))));
    }
  }

  void form() {
    const car::Grid& g = p_.surface.grid;
    say(
        fmt::format("The table keeps its {} x {} nodes; values stand in the unit's steps of {:.3g} "
                    "%, rounded to the rich side.",
                    g.x.size(), g.y.size(), 100 * p_.options.unit.step));
  }

  void what_to_do() {
    say("Load this and clear the unit's own corrections: they were learned on the old table and "
        "would be counted twice.");
  }

  const ProposedTable& p_;
  const Reader& reader_;
  std::vector<std::string> out_;
};

}  // namespace

std::string reason(const ProposedTable& p) {
  std::string out;
  if (p.first) {
    out = "first table, from the recordings; guesses are marked";
  } else if (p.richer + p.leaner == 0) {
    out = "nothing to change by more than 1 % yet";
  } else {
    const auto moved = [](const std::string& count, const char* way, double most) {
      return fmt::format("{} {} by more than 1 % (most {:.1f} %)", count, way, 100 * most);
    };
    if (p.richer > 0) out = moved(nodes(p.richer), "richer", p.most_richer);
    if (p.richer > 0 && p.leaner > 0) out += ", ";
    if (p.leaner > 0) out += moved(nodes(p.leaner), "leaner", p.most_leaner);
  }
  if (p.kept_rich > 0) {
    out += fmt::format("; {} at high load kept rich (chance of being too lean under {:.3g} %)",
                       nodes(p.kept_rich), 100 * p.options.lean_chance);
  }
  if (p.held_back > 0) {
    out += fmt::format("; {} leaner {} for proof", p.held_back,
                       p.held_back == 1 ? "move waits" : "moves wait");
  }
  if (p.cut > 0) {
    out += fmt::format("; {} want more than one revision may move: look for the cause first",
                       nodes(p.cut));
  }
  if (p.unsafe > 0) {
    out += fmt::format("; {} at high load not safe yet", nodes(p.unsafe));
  }
  if (!p.options.may_extrapolate) out += "; guesses were not moved";
  return out;
}

std::vector<std::string> words(const ProposedTable& proposed, const Reader& reader) {
  return Words(proposed, reader).all();
}

}  // namespace fuelwright::advice
