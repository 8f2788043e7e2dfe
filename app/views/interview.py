"""Placeholder."""
import streamlit as st
from app import state
st.title("Interview", anchor=False)
state.keep("age", st.text_input("Age", key=state.seed("age"), live="400ms"))
