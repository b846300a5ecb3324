#include "physics/ensemble/serialise.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>

namespace fuelwright::physics {
namespace {

static_assert(std::endian::native == std::endian::little, "bytes are written as they lie");

constexpr std::string_view kMagic = "FwEnsemb", kSuspectMagic = "FwSuspec";
constexpr std::uint32_t kVersion = 1;
constexpr std::uint32_t kFewestWritten = 8;  // as draw_engines() asks
constexpr std::uint32_t kMost = 1U << 16;  // members, parts or places: far above what can be drawn

// FNV-1a, 64 bits (public domain; from memory, checked in the tests against its known value of
// "a").
std::uint64_t checksum(std::string_view bytes) {
  std::uint64_t h = 14695981039346656037ULL;
  for (const char c : bytes) h = (h ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  return h;
}

class Writer {
 public:
  template <class T>
  void put(T value) {
    out_.append(reinterpret_cast<const char*>(&value), sizeof value);
  }
  void put(std::string_view text) {
    put(static_cast<std::uint32_t>(text.size()));
    out_ += text;
  }
  void raw(std::string_view text) { out_ += text; }
  std::string take() { return std::move(out_); }
  const std::string& so_far() const { return out_; }

 private:
  std::string out_;
};

// Reads until something does not fit; then everything is zero and ok() is false.
class Reader {
 public:
  explicit Reader(std::string_view bytes) : rest_(bytes) {}
  template <class T>
  T get() {
    T value{};
    if (rest_.size() < sizeof value) {
      ok_ = false;
      rest_ = {};
      return T{};
    }
    std::memcpy(&value, rest_.data(), sizeof value);
    rest_.remove_prefix(sizeof value);
    return value;
  }
  std::uint32_t count() {
    const auto n = get<std::uint32_t>();
    if (n > kMost) ok_ = false;
    return ok_ ? n : 0;
  }
  std::string text() {
    const std::uint32_t n = count();
    if (rest_.size() < n) ok_ = false;
    if (!ok_) return {};
    std::string out(rest_.substr(0, n));
    rest_.remove_prefix(n);
    return out;
  }
  bool ok() const { return ok_; }
  bool at_end() const { return rest_.empty(); }
  std::size_t left() const { return rest_.size(); }

 private:
  std::string_view rest_;
  bool ok_ = true;
};

// The numbers of a node, in a fixed order: written and read by the same list.
template <class Node, class Each>
void each_number(Node& n, Each&& each) {
  each(n.ve);
  each(n.residual);
  each(n.short_circuit);
  each(n.trapped_air.si);
  each(n.trapped.si);
  each(n.charge_pressure.from_zero.si);
  each(n.charge_temperature.from_zero.si);
  each(n.closing.rad);
  each(n.pumping.si);
  each(n.indicated.si);
  each(n.exhaust.from_zero.si);
  each(n.cylinder_spread);
}
constexpr std::size_t kNodeBytes = 12 * sizeof(float) + 2;

void put_map(Writer* w, const AirMap& map) {
  for (const AirNode& node : map.nodes) {
    each_number(node, [&](double x) { w->put(static_cast<float>(x)); });
    w->put(static_cast<std::uint8_t>((node.reachable ? 1 : 0) | (node.converged ? 2 : 0)));
    w->put(static_cast<std::uint8_t>(std::clamp(node.cycles, 0, 255)));
  }
}

// The caller has checked that enough is left.
AirMap get_map(Reader* r, const MapPlaces& places) {
  AirMap map{places.speeds, places.pressures, {}};
  for (const AbsolutePressure p : places.pressures) {
    for (const EngineSpeed n : places.speeds) {
      AirNode node;
      node.speed = n;
      node.map = p;
      each_number(node, [&](double& x) { x = r->get<float>(); });
      const auto flags = r->get<std::uint8_t>();
      node.reachable = (flags & 1U) != 0;
      node.converged = (flags & 2U) != 0;
      node.cycles = r->get<std::uint8_t>();
      map.nodes.push_back(node);
    }
  }
  return map;
}

void put_places(Writer* w, const MapPlaces& places) {
  w->put(static_cast<std::uint32_t>(places.speeds.size()));
  for (const EngineSpeed n : places.speeds) w->put(n.rpm);
  w->put(static_cast<std::uint32_t>(places.pressures.size()));
  for (const AbsolutePressure p : places.pressures) w->put(p.from_zero.si);
  const Surroundings& s = places.surroundings;
  for (const double x :
       {s.ambient.from_zero.si, s.intake_air.from_zero.si, s.coolant.from_zero.si, s.lambda})
    w->put(x);
}

MapPlaces get_places(Reader* r) {
  MapPlaces places;
  for (std::uint32_t i = r->count(); i > 0 && r->ok(); --i)
    places.speeds.push_back(rpm(r->get<double>()));
  for (std::uint32_t i = r->count(); i > 0 && r->ok(); --i)
    places.pressures.push_back(absolute(r->get<double>() * pascal));
  Surroundings& s = places.surroundings;
  s.ambient = absolute(r->get<double>() * pascal);
  s.intake_air = kelvin(r->get<double>());
  s.coolant = kelvin(r->get<double>());
  s.lambda = r->get<double>();
  return places;
}

void put_part(Writer* w, const Part& p) {
  for (const std::string* text : {&p.id, &p.name, &p.group, &p.source, &p.half_width, &p.measuring})
    w->put(std::string_view(*text));
  w->put(p.leaves);
}

Part get_part(Reader* r) {
  Part p;
  for (std::string* text : {&p.id, &p.name, &p.group, &p.source, &p.half_width, &p.measuring})
    *text = r->text();
  p.leaves = r->get<double>();
  return p;
}

Error damaged(const std::string& what) { return {ErrorCode::damaged, "the kept ensemble", what}; }

// What lies between the magic and the checksum, the version read and found good.
Result<std::string_view> body_of(std::string_view bytes, std::string_view magic) {
  constexpr std::size_t kSum = sizeof(std::uint64_t);
  if (bytes.size() < magic.size() + sizeof kVersion + kSum || !bytes.starts_with(magic))
    return damaged("does not begin as one");
  const std::string_view all = bytes.substr(0, bytes.size() - kSum);
  if (Reader(bytes.substr(all.size())).get<std::uint64_t>() != checksum(all))
    return damaged("is not what was written (its checksum differs)");
  Reader r(all.substr(magic.size()));
  if (const auto version = r.get<std::uint32_t>(); version > kVersion) {
    return Error{ErrorCode::newer_version, "the kept ensemble",
                 fmt::format("has format {}, this program reads up to {}", version, kVersion)};
  }
  return all.substr(magic.size() + sizeof kVersion);
}

}  // namespace

std::string to_bytes(const Drawn& drawn) {
  Writer w;
  w.raw(kMagic);
  w.put(kVersion);
  w.put(drawn.seed);
  w.put(static_cast<std::int32_t>(drawn.drawn_back));
  put_places(&w, drawn.places);
  w.put(static_cast<std::uint32_t>(drawn.parts.size()));
  for (const Part& part : drawn.parts) put_part(&w, part);
  w.put(static_cast<std::uint32_t>(drawn.members.size()));
  w.put(static_cast<std::uint32_t>(drawn.steps.size()));
  w.put(static_cast<std::uint32_t>(drawn.whole ? 1 : 0));
  for (Eigen::Index i = 0; i < drawn.z.size(); ++i) w.put(drawn.z.data()[i]);
  put_map(&w, drawn.centre);
  for (const AirMap& map : drawn.members) put_map(&w, map);
  for (const AirMap& map : drawn.steps) put_map(&w, map);
  if (drawn.whole) put_map(&w, *drawn.whole);
  w.put(checksum(w.so_far()));
  return w.take();
}

Result<Drawn> drawn_from_bytes(std::string_view bytes) {
  FW_TRY(const std::string_view body, body_of(bytes, kMagic));
  Reader r(body);
  Drawn out;
  out.seed = r.get<std::uint64_t>();
  out.drawn_back = r.get<std::int32_t>();
  out.places = get_places(&r);
  for (std::uint32_t i = r.count(); i > 0 && r.ok(); --i) out.parts.push_back(get_part(&r));
  const std::uint32_t members = r.count(), steps = r.count(), whole = r.count();
  const bool sizes_fit =
      r.ok() && out.nodes() > 0 && members >= kFewestWritten &&
      (steps == 0 || steps == out.parts.size()) && whole <= 1 &&
      r.left() == sizeof(double) * members * out.parts.size() +
                      (1ULL + members + steps + whole) * out.nodes() * kNodeBytes;
  if (!sizes_fit) return damaged("its sizes do not fit");
  out.z.resize(members, static_cast<Eigen::Index>(out.parts.size()));
  for (Eigen::Index i = 0; i < out.z.size(); ++i) out.z.data()[i] = r.get<double>();
  out.centre = get_map(&r, out.places);
  for (std::uint32_t i = 0; i < members; ++i) out.members.push_back(get_map(&r, out.places));
  for (std::uint32_t i = 0; i < steps; ++i) out.steps.push_back(get_map(&r, out.places));
  if (whole == 1) out.whole = get_map(&r, out.places);
  if (!r.ok() || !r.at_end()) return damaged("its sizes do not fit");
  return out;
}

std::string to_bytes(std::span<const Suspect> suspects) {
  Writer w;
  w.raw(kSuspectMagic);
  w.put(kVersion);
  w.put(static_cast<std::uint32_t>(suspects.size()));
  for (const Suspect& one : suspects) {
    w.put(std::string_view(one.part));
    w.put(std::string_view(one.name));
    w.put(static_cast<std::uint32_t>(one.change.size()));
    for (const double x : one.change) w.put(static_cast<float>(x));
  }
  w.put(checksum(w.so_far()));
  return w.take();
}

Result<std::vector<Suspect>> suspects_from_bytes(std::string_view bytes, std::size_t nodes) {
  FW_TRY(const std::string_view body, body_of(bytes, kSuspectMagic));
  Reader r(body);
  std::vector<Suspect> out;
  for (std::uint32_t i = r.count(); i > 0 && r.ok(); --i) {
    Suspect one{r.text(), r.text(), {}};
    const std::uint32_t count = r.count();
    if (count != nodes || r.left() < count * sizeof(float)) return damaged("its sizes do not fit");
    one.change.resize(count);
    for (double& x : one.change) x = r.get<float>();
    out.push_back(std::move(one));
  }
  if (!r.ok() || !r.at_end()) return damaged("its sizes do not fit");
  return out;
}

}  // namespace fuelwright::physics
