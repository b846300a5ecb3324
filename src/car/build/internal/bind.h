/// Ties a key of the table to a typed field of Sheet: number<&Sheet::engine, &Engine::bore>().
#pragma once

#include <algorithm>
#include <string_view>

#include "car/build/internal/keys.h"

namespace fuelwright::car {

/// The written names of an enum of the sheet, in the order of its values.
std::span<const char* const> names(Tappet);
std::span<const char* const> names(IntakeArrangement);
std::span<const char* const> names(ExhaustArrangement);
std::span<const char* const> names(InjectionArrangement);
std::span<const char* const> names(RegulatorReference);
std::span<const char* const> names(PumpPlace);
std::span<const char* const> names(RegulatorPlace);
std::span<const char* const> names(IgnitionKind);
std::span<const char* const> names(LoadAxis);

namespace bind {

template <auto Section, auto Field>
struct InSheet {
  static auto& of(auto& sheet, std::size_t) { return sheet.*Section.*Field; }
};
template <auto Field>
struct InSensor {
  static auto& of(auto& sheet, std::size_t index) { return sheet.sensors.mixture[index].*Field; }
};

template <class Place>
Binding number_at() {
  return {Form::number,
          [](const Sheet& sheet, std::size_t i) {
            const auto& k = Place::of(sheet, i);
            return Held{{k.si()}, k.tolerance_si(), "", k.source, k.reason};
          },
          [](Sheet& sheet, std::size_t i, const Held& h) {
            auto& k = Place::of(sheet, i);
            using T = std::remove_reference_t<decltype(k.value)>;
            k = {Si<T>::make(h.numbers.at(0)), Si<typename Si<T>::Step>::make(h.tolerance),
                 h.source, h.reason};
          }};
}

template <class Place>
Binding numbers_at() {
  return {Form::numbers,
          [](const Sheet& sheet, std::size_t i) {
            const auto& k = Place::of(sheet, i);
            using T = typename std::remove_cvref_t<decltype(k.values)>::value_type;
            Held h{{}, k.tolerance, "", k.source, k.reason};
            for (const T& v : k.values) h.numbers.push_back(Si<T>::of(v));
            return h;
          },
          [](Sheet& sheet, std::size_t i, const Held& h) {
            auto& k = Place::of(sheet, i);
            using T = typename std::remove_cvref_t<decltype(k.values)>::value_type;
            k = {{}, h.tolerance, h.source, h.reason};
            for (const double v : h.numbers) k.values.push_back(Si<T>::make(v));
          }};
}

template <class Place>
Binding choice_at() {
  return {Form::choice,
          [](const Sheet& sheet, std::size_t i) {
            const auto& k = Place::of(sheet, i);
            return Held{
                {}, 0, names(k.value)[static_cast<std::size_t>(k.value)], k.source, k.reason};
          },
          [](Sheet& sheet, std::size_t i, const Held& h) {
            auto& k = Place::of(sheet, i);
            const auto all = names(k.value);
            const auto at = std::find(all.begin(), all.end(), std::string_view(h.text));
            EXPECTS(at != all.end());
            using E = std::remove_reference_t<decltype(k.value)>;
            k = {static_cast<E>(at - all.begin()), h.source, h.reason};
          }};
}

template <class Place>
Binding text_at() {
  return {Form::text,
          [](const Sheet& sheet, std::size_t i) {
            const auto& k = Place::of(sheet, i);
            return Held{{}, 0, k.value, k.source, k.reason};
          },
          [](Sheet& sheet, std::size_t i, const Held& h) {
            Place::of(sheet, i) = {h.text, h.source, h.reason};
          }};
}

template <class Place>
Binding scale_at() {
  return {Form::text,
          [](const Sheet& sheet, std::size_t i) {
            const auto& k = Place::of(sheet, i);
            return Held{{}, 0, k.value.text(), k.source, k.reason};
          },
          [](Sheet& sheet, std::size_t i, const Held& h) {
            auto scale = MixtureScale::parse(h.text);
            EXPECTS(scale.ok());
            Place::of(sheet, i) = {*scale, h.source, h.reason};
          }};
}

template <auto Section, auto Field>
Binding number() {
  return number_at<InSheet<Section, Field>>();
}
template <auto Section, auto Field>
Binding numbers() {
  return numbers_at<InSheet<Section, Field>>();
}
template <auto Section, auto Field>
Binding choice() {
  return choice_at<InSheet<Section, Field>>();
}
template <auto Section, auto Field>
Binding text() {
  return text_at<InSheet<Section, Field>>();
}
template <auto Section, auto Field>
Binding scale() {
  return scale_at<InSheet<Section, Field>>();
}

}  // namespace bind
}  // namespace fuelwright::car
