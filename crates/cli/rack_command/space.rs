//! `panelwright rack space`: what should leave a rack that is full.

use super::answer;
use super::place::{shop, to_read};
use crate::args::SpaceArgs;
use crate::input::{Room, suggestion};
use crate::job::Shop;
use crate::rack::{self, Space};
use crate::{Failure, Result};
use jiff::Zoned;

/// The proposals: for what is asked or, without a limit, for what the shop file says of it.
pub fn space(args: &SpaceArgs, when: &Zoned) -> Result<String> {
    let asked = Room {
        material: args.material.clone(),
        place: args.place.clone(),
        pieces: args.pieces,
        area_m2: args.area,
    };
    let (shop, _) = shop(&args.at.shop, args.at.rack.as_deref())?;
    let looked = to_read(&args.at, when)?;
    let rooms = rooms(&asked, &shop)?;
    let spaces = rooms
        .iter()
        .map(|room| rack::space(&looked.rack, &shop, room))
        .collect::<Result<Vec<_>>>()?;
    let text = space_text(&spaces, &shop.currency);
    Ok(answer(args.at.json, &spaces, text))
}

/// The rooms that are asked for.
fn rooms(asked: &Room, shop: &Shop) -> Result<Vec<Room>> {
    let names: Vec<&str> = shop.materials.iter().map(|m| m.name.as_str()).collect();
    if let Some(unknown) = asked.material.as_deref().filter(|m| !names.contains(m)) {
        let what = format!("no material is called '{unknown}'");
        let advice = suggestion(unknown, &names);
        return Err(Failure::new("--material", what, advice));
    }
    if let Some(area) = asked.area_m2.filter(|a| !(a.is_finite() && *a >= 0.0)) {
        let what = format!("{area} m2 is no area");
        return Err(Failure::new("--area", what, "give square metres from 0"));
    }
    if asked.pieces.is_some() || asked.area_m2.is_some() {
        if asked.material.is_some() || asked.place.is_some() {
            return Ok(vec![asked.clone()]);
        }
        let of_each = names.iter().map(|name| Room {
            material: Some((*name).to_owned()),
            ..asked.clone()
        });
        return Ok(of_each.collect());
    }
    let is_asked = |room: &&Room| {
        let same = |asked: &Option<String>, is: &Option<String>| asked.is_none() || asked == is;
        same(&asked.material, &room.material) && same(&asked.place, &room.place)
    };
    let rooms: Vec<Room> = shop.room.iter().filter(is_asked).cloned().collect();
    if rooms.is_empty() {
        return Err(Failure::new(
            "rack space",
            "the shop file does not say how much the rack holds there",
            "give --pieces or --area, or set \"room\" in the shop file",
        ));
    }
    Ok(rooms)
}

/// Proposals for people.
pub fn space_text(spaces: &[Space], currency: &str) -> String {
    let mut text: String = spaces.iter().map(|space| space.text(currency)).collect();
    if spaces.iter().any(|space| !space.leave.is_empty()) {
        text.push_str(
            "Nothing was changed. Take off what you agree with by `panelwright rack retire`.\n",
        );
    }
    text
}
